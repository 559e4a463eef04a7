"""Where one gauge or master stands at a moment: its state, its due date, an incident not yet checked.

Owns looking these up for one gauge, from lists and pages; close of day does it for whole frames.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from consolidator.authority.due import due_end, extension_state
from consolidator.desk.desk import Desk
from consolidator.desk.held_pages import HeldAct
from kiosk.lists import Gauge, Lists, Master
from kiosk.lists.words import GaugeState
from kiosk.pages import Act
from kiosk.pages.desk import Calibration, Extension, GaugeStateChange, SecondSignature
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckVerdict
from kiosk.times import read_time

LONG_AGO: Final = read_time("0001-01-02T00:00:00.000+00:00")
_NEWS: Final = (Calibration, Extension, GaugeStateChange, Check, GaugeIncident)
FOUND_OUT: Final = "Found out at calibration"


@dataclass(frozen=True)
class Standing:
    """A gauge or master at one moment. `state` is the word to print; only `In use` is fit."""

    number: str
    row: Gauge | Master
    state: str
    due: date | None
    due_end: datetime | None
    """First moment its due date no longer covers."""
    is_in_doubt: bool = False
    """Dropped, knocked or the like, and not checked good since."""

    def why_unfit(self, at: datetime) -> str:
        """Say why nothing may be set or measured with it at `at`; empty when it is fit."""
        if self.state != GaugeState.IN_USE:
            return f"{self.number} is out of use ({self.state})"
        if self.due_end is not None and at >= self.due_end:
            return f"{self.number} was due {self.due}"
        if self.is_in_doubt:
            return f"{self.number} was dropped or knocked and not checked since"
        return ""


def standing_of(number: str, lists: Lists, acts: Iterable[HeldAct], at: datetime) -> Standing | None:
    """Return where a gauge or master stands at `at`; none when it is in neither register."""
    row = lists.gauge(number, at) or lists.master(number, at)
    if row is None:
        return None
    known = [held for held in acts if held.at <= at]
    due = _due(row, lists, known, at)
    end = None if due is None else due_end(due, lists)
    return Standing(number, row, _state(row, known), due, end, _is_in_doubt(number, known))


def news_of(desk: Desk, number: str, *more: type[Act]) -> list[HeldAct]:
    """Return the acts that tell where a gauge or master stands, oldest first; `more` are further kinds wanted."""
    acts = desk.acts(*_NEWS, *more, naming=(number,))
    extended = [held.page.ref for held in acts if isinstance(held.page.act, Extension)]
    seconds = desk.acts(SecondSignature, naming=extended) if extended else []
    return sorted([*acts, *seconds], key=lambda held: (held.at, held.page.series, held.page.number))


def calibrations_of(number: str, acts: Iterable[HeldAct]) -> list[tuple[HeldAct, Calibration]]:
    """Return the calibration pages of a gauge or master, by the time they were done."""
    found = [(held, held.page.act) for held in acts if isinstance(held.page.act, Calibration)]
    mine = [(held, act) for held, act in found if act.gauge == number]
    return sorted(mine, key=lambda each: (read_time(each[1].done_at), each[0].at, each[0].page.number))


def extensions_of(
    number: str, lists: Lists, acts: Sequence[HeldAct]
) -> list[tuple[HeldAct, Extension, datetime | None]]:
    """Return the extensions of a gauge's due date with the moment each works from; none while or where it does not."""
    seconds: dict[str, HeldAct] = {}
    for held in acts:
        act = held.page.act
        if isinstance(act, SecondSignature) and held.page.person is not None:
            seconds.setdefault(act.of, held)
    out: list[tuple[HeldAct, Extension, datetime | None]] = []
    for held in acts:
        act = held.page.act
        if isinstance(act, Extension) and act.gauge == number:
            second = seconds.get(held.page.ref)
            is_other = second is not None and second.page.person != held.page.person
            second_at = second.at if second is not None and is_other else None
            out.append((held, act, extension_state(held.at, second_at, act.old_due, lists).works_from))
    return out


def _due(row: Gauge | Master, lists: Lists, acts: Sequence[HeldAct], at: datetime) -> date | None:
    """Return the due date in force: the latest of register, calibrations left good, and extensions that work."""
    news: list[tuple[datetime, date | None]] = [(_since(row.in_force_from), row.due)]
    if row.due is None:
        listed = [c for c in lists.calibrations if c.gauge == row.number and c.as_left == "Good" and c.due is not None]
        news += [(read_time(c.done_at), c.due) for c in listed]
    news += [
        (max(held.at, read_time(act.done_at)), act.due)
        for held, act in calibrations_of(row.number, acts)
        if act.as_left == "Good" and act.due is not None and act.stage != "as-found"
    ]
    news += [
        (works_from, act.new_due)
        for _, act, works_from in extensions_of(row.number, lists, acts)
        if works_from is not None
    ]
    return max((each for each in news if each[0] <= at), key=lambda each: each[0], default=(at, row.due))[1]


def _state(row: Gauge | Master, acts: Iterable[HeldAct]) -> str:
    """Return the last state known; a good calibration lifts only a stop by calibration or the wait for one."""
    state = str(row.state)
    since = _since(row.in_force_from)
    for held in sorted(acts, key=lambda each: (each.at, each.page.series, each.page.number)):
        act = held.page.act
        if held.at < since:
            continue
        if isinstance(act, GaugeStateChange) and act.gauge == row.number:
            state = act.state
        elif isinstance(act, Calibration) and act.gauge == row.number:
            if act.as_left == "Out" or (act.stage == "as-found" and act.as_found == "Out"):
                state = FOUND_OUT
            elif act.stage != "as-found" and state in (FOUND_OUT, GaugeState.AWAITING):
                state = str(GaugeState.IN_USE)
    return state


def _is_in_doubt(number: str, acts: Iterable[HeldAct]) -> bool:
    in_doubt = False
    for held in sorted(acts, key=lambda each: (each.at, each.page.series, each.page.number)):
        act = held.page.act
        if isinstance(act, GaugeIncident) and act.gauge == number:
            in_doubt = True
        elif isinstance(act, Check) and act.gauge == number and act.verdict is CheckVerdict.GOOD:
            in_doubt = False
        elif isinstance(act, Calibration) and act.gauge == number:
            is_left_good = act.stage != "as-found" and act.as_left == "Good"
            in_doubt = in_doubt and not (is_left_good or act.as_found == "Good")
    return in_doubt


def _since(in_force_from: str | None) -> datetime:
    return LONG_AGO if in_force_from is None else read_time(in_force_from)
