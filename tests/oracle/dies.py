"""How many pieces a set of dies had made when a reading was taken (X64; decision 0132)."""

from dataclasses import dataclass, field

from kiosk.pages.station import MachineCounter, SetUpChange, SetUpEnd, SetUpStart
from tests.oracle.night import ON_MACHINE, Night, Reading
from tests.oracle.setups import SetUps


@dataclass
class _Run:
    """One set-up under way: its dies, its machine, and what was counted of them when."""

    die_set: str | None
    machine: str | None
    station: str
    begun_with: int
    counts: list[tuple[int, int]] = field(default_factory=list)
    is_over: bool = False
    """True when it ended, or another one was begun on its machine."""

    @property
    def count(self) -> int:
        """What they had made by the last count."""
        return self.counts[-1][1]


def mark_dies(night: Night, set_ups: SetUps) -> None:
    """Mark X64: more pieces than planned at the last count before the reading, or at the first one after it."""
    runs = _runs(night)
    for reading in night.readings:
        run = runs.get(set_ups.of_reading(reading) or "")
        if run is None or reading.plan is None or reading.plan.die_life is None:
            continue
        if reading.row["sample_kind"] in ON_MACHINE and _made_by(run, reading) > reading.plan.die_life:
            reading.mark("X64", "Flagged")


def _made_by(run: _Run, reading: Reading) -> int:
    before = [count for ms, count in run.counts if ms <= reading.ms]
    after = [count for ms, count in run.counts if ms > reading.ms]
    return max([*before[-1:], *(after[:1] if before else [])], default=0)


def _runs(night: Night) -> dict[str, _Run]:
    runs: dict[str, _Run] = {}
    counters: dict[str, int] = {}
    known: dict[str, int] = {}
    for act in night.acts:
        what = act.page.act
        if isinstance(what, SetUpStart):
            begun = max(what.die_pieces_before, known.get(what.die_set or "", 0))
            for run in runs.values():
                run.is_over |= run.machine == what.machine
            runs[what.set_up] = _Run(what.die_set, what.machine, act.page.station, begun, [(act.ms, begun)])
        elif isinstance(what, MachineCounter):
            grown = what.pieces - counters.get(what.machine, what.pieces)
            grown = what.pieces if grown < 0 else grown
            counters[what.machine] = what.pieces
            for run in runs.values():
                if run.machine == what.machine and not run.is_over:
                    run.counts.append((act.ms, run.count + grown))
        elif isinstance(what, SetUpChange) and what.what == "die change" and what.set_up in runs:
            runs[what.set_up].die_set, runs[what.set_up].begun_with = None, 0
            runs[what.set_up].counts.append((act.ms, 0))
        elif isinstance(what, SetUpEnd) and what.set_up in runs:
            run = runs[what.set_up]
            run.is_over = True
            run.counts.append((act.ms, max(run.count, run.begun_with + (what.pieces_run or 0))))
        for run in runs.values():
            if run.die_set is not None:
                known[run.die_set] = max(known.get(run.die_set, 0), run.count)
    return runs
