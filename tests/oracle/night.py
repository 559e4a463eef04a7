"""The pages of a night as the oracle looks at them, each with its time, and what the lists say of each reading."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from consolidator.intake.held import Held
from kiosk.lists import Characteristic, Gauge, Lists, Lot, Master, Part, Plan, PlantNumbers
from kiosk.lists.words import GaugeKind
from kiosk.pages import Act, Page
from kiosk.pages.readings import SampleEnd
from kiosk.pages.words import KeyedAs, SampleKind, Verdict
from kiosk.times import day_bounds_utc
from tests.oracle.figures import Figure, Keyed, comparable, figure_of
from tests.oracle.times import Made, make_times, moment_of, ms_of, stamp_of_act, stamp_of_reading

ON_MACHINE = (SampleKind.SET_UP, SampleKind.FIRST, SampleKind.RUN, SampleKind.LAST)
RUN = (SampleKind.RUN, SampleKind.LAST)
AnAct = TypeVar("AnAct", bound=Act)


@dataclass(frozen=True)
class ActAt:
    """One page that is no reading, with when it was made."""

    page: Page
    fingerprint: str
    made: Made
    received_ms: int

    @property
    def ms(self) -> int:
        """When it was made."""
        return self.made.ms

    @property
    def signer(self) -> str | None:
        """Who stands behind it: the signature's person, else the badge."""
        signature = getattr(self.page.act, "signature", None)
        return self.page.person if signature is None else str(signature.person)

    @property
    def order(self) -> tuple[int, str, int, str]:
        """Oldest first; book and page where two are of one moment."""
        return (self.ms, self.page.series, self.page.number, self.fingerprint)


@dataclass(eq=False)
class Reading:
    """One reading page, what stood behind it at its time, and what is found of it."""

    row: Mapping[str, Any]
    made: Made
    part: Part | None
    revision: str
    what: Characteristic | None
    plan: Plan | None
    lot: Lot | None
    gauge: Gauge | None
    how: Keyed
    numbers: PlantNumbers
    figure: Figure = field(default_factory=Figure)
    value: Any = None
    """The figure in the drawing's unit, as a fraction; none where there is none."""
    verdict: Verdict = Verdict.NOT_JUDGED
    keyed_verdict: Verdict = Verdict.NOT_JUDGED
    """As keyed, before any correction."""
    marks: dict[str, str] = field(default_factory=dict)
    """Kind found, and what it does to this reading: Blocked, Flagged, Counts or tag."""
    asked: frozenset[str] = frozenset()
    """The slips that the kiosk asked about."""
    is_conflict: bool = False
    replaces: "Reading | None" = None
    is_replaced: bool = False
    home: str = ""
    standing: str = "Counts"

    @property
    def ms(self) -> int:
        """When it was made."""
        return self.made.ms

    @property
    def ref(self) -> str:
        """How other pages name this one."""
        return f"{self.row['series']}/{self.row['number']}"

    @property
    def taker(self) -> str | None:
        """Who measured: the one named on a paper form, else the badge."""
        taker: str | None = self.row["taken_by"] or self.row["person"]
        return taker

    @property
    def order(self) -> tuple[int, int, str]:
        """In order of time, then of pages."""
        return (self.ms, self.row["number"], self.row["series"])

    def mark(self, number: str, effect: str) -> None:
        """Note a kind and its effect; a tag never hides a firm mark, and the harder effect stands."""
        rank = ("tag", "Counts", "Flagged", "Blocked")
        if number not in self.marks or rank.index(self.marks[number]) < rank.index(effect):
            self.marks[number] = effect


class Night:
    """Everything at hand for one production day."""

    def __init__(self, held: Held, lists: Lists, *, day: date, at_utc: datetime, carried: frozenset[str]) -> None:
        self.held, self.lists, self.day, self.carried = held, lists, day, carried
        self.zone = ZoneInfo(lists.zone)
        self.at_ms = ms_of(at_utc)
        self.start_ms, self.end_ms = (ms_of(each) for each in day_bounds_utc(day, self.zone))
        rows = held.readings.to_pylist()
        stamps = [*(stamp_of_reading(row) for row in rows), *(stamp_of_act(act) for act in held.acts)]
        contacts = [c for c in held.contacts.to_pylist() if c["consolidator_ms"] <= self.at_ms]
        times = make_times(stamps, contacts, lists)
        told = zip(held.acts, times[len(rows) :], strict=True)
        acts = [ActAt(h.page, h.fingerprint, made, ms_of(h.received_at)) for h, made in told]
        self.acts = sorted(acts, key=lambda act: act.order)
        self.readings = [self._reading(row, made) for row, made in zip(rows, times, strict=False)]
        self._find_conflicts()
        self._find_replaced()

    def of(self, kind: type[AnAct]) -> Iterator[tuple[ActAt, AnAct]]:
        """Yield the pages of one kind of act, oldest first."""
        for act in self.acts:
            if isinstance(act.page.act, kind):
                yield act, act.page.act

    def is_today(self, ms: int) -> bool:
        """True for a moment of the production day."""
        return self.start_ms <= ms < self.end_ms

    def stands_today(self, reading: Reading) -> bool:
        """True for a reading of the day whose place no other page took."""
        return self.is_today(reading.ms) and not reading.is_replaced

    def local_date(self, ms: int) -> date:
        """Return the calendar date in the plant."""
        return moment_of(ms).astimezone(self.zone).date()

    def characteristic_at(self, row: Mapping[str, Any], ms: int) -> Characteristic | None:
        """Return a reading's characteristic under the revision in force at a moment."""
        part = self.lists.part(row["part"], moment_of(ms))
        revision = row["revision"] if part is None else part.revision
        return self.lists.characteristic(row["part"], revision, row["characteristic"], moment_of(ms))

    def _reading(self, row: Mapping[str, Any], made: Made) -> Reading:
        lists, moment = self.lists, moment_of(made.ms)
        part = lists.part(row["part"], moment)
        revision = row["revision"] if part is None else part.revision
        what = self.characteristic_at(row, made.ms)
        gauge = None if row["gauge"] is None else lists.gauge(row["gauge"], moment)
        how = self._way(row, what, gauge, moment)
        figure = figure_of(row["keyed"], how)
        again = row["re_measure_of"]
        return Reading(
            row,
            made,
            part,
            revision,
            what,
            lists.plan(row["part"], revision, row["operation"], moment),
            None if row["lot"] is None else lists.lot(row["lot"]),
            gauge,
            how,
            lists.numbers(moment),
            figure,
            figure.value if what is None else comparable(figure.value, row["unit"], what),
            home=row["series"] if again is None else again.rpartition("/")[0],
        )

    def _way(self, row: Mapping[str, Any], what: Characteristic | None, gauge: Gauge | None, moment: datetime) -> Keyed:
        keyed_as = row["keyed_as"]
        is_by_wires = what is not None and what.rule == "over wires"
        if keyed_as == KeyedAs.VALUE and is_by_wires and gauge is not None and gauge.kind is GaugeKind.OVER_WIRES:
            keyed_as = KeyedAs.OVER_WIRES  # a plain figure of an over-wire micrometer is M
        number = row["master"]
        if number is None and keyed_as != KeyedAs.OVER_WIRES and gauge is not None:
            number = gauge.master
        master: Master | None = None if number is None else self.lists.master(number, moment)
        return Keyed(keyed_as, row["unit"], what, gauge, master, number is not None)

    def _find_conflicts(self) -> None:
        seen: dict[str, list[Reading]] = {}
        for reading in self.readings:
            seen.setdefault(reading.ref, []).append(reading)
        told = {f"{each.series}/{each.number}" for each in self.held.conflicts}
        for ref, same in seen.items():
            for reading in same:
                reading.is_conflict = len(same) > 1 or ref in told

    def _find_replaced(self) -> None:
        """Settle which keyings a later page of the same unfinished sample took the place of (decision 0033)."""
        by_ref = {reading.ref: reading for reading in self.readings if not reading.is_conflict}
        ends = list(self.of(SampleEnd))
        same = ("lot", "operation", "characteristic", "sample", "piece", "position")
        for reading in self.readings:
            row = reading.row
            old = by_ref.get(f"{row['series']}/{row['replaces']}")
            if row["replaces"] is None or old is None or reading.is_conflict:
                continue
            if old.row["number"] >= row["number"] or any(row[name] != old.row[name] for name in same):
                continue
            if any(
                (act.page.series, end.lot, end.operation, end.characteristic, end.sample)
                == (row["series"], row["lot"], row["operation"], row["characteristic"], row["sample"])
                and old.row["number"] < act.page.number < row["number"]
                for act, end in ends
            ):
                continue
            reading.replaces, old.is_replaced = old, True
