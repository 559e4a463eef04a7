"""Which lots are held and because of what; a hold stays until a disposition or a lift says so.

Owns what a lift covers: the readings it names, or those that were known when it was signed; never more.
"""

from dataclasses import dataclass
from typing import Final

from consolidator.authority import Deed
from consolidator.close.clock_text import local_text
from consolidator.close.closed import Closed
from consolidator.close.exceptions import IN_DOUBT, Cells, Kept
from consolidator.frame import Day
from consolidator.frame.day import rows_of_page
from consolidator.frame.world import ActAt, text_ms
from consolidator.production.disposed import void_dispositions
from kiosk.pages.desk import Disposition, Hold, HoldLift
from kiosk.pages.words import Choice

HELD: Final = "held"
LIFTED: Final = "lifted"
_BY_HAND: Final = "hold"


@dataclass(frozen=True)
class Lift:
    """An act that ends holds of a lot: of which kinds (none: all), and for which readings (none: those known then)."""

    act: ActAt
    lot: str
    numbers: frozenset[str]
    readings: frozenset[str]
    is_seconded: bool

    def is_about(self, cells: Cells) -> bool:
        """True when it may end this hold; an A hold needs two signatures."""
        is_meant = not self.numbers or cells["number"] in self.numbers
        return self.lot == cells["lot"] and is_meant and (cells["urgency"] != "A" or self.is_seconded)


def keep_holds(day: Day, kept: list[Kept], before: Closed | None) -> list[Cells]:
    """Return the holds of the day: those raised, those set by hand and those carried over, by lot and key."""
    lifts = lifts_of(day)
    rows = [] if before is None else before.holds.to_pylist()
    carried = {(row["lot"], row["key"]): row for row in rows if row["state"] == HELD}
    holds: dict[tuple[str, str], Cells] = {}
    for one in kept:
        for lot, because in {} if one.raised is None else one.raised.holds.items():
            known = carried.pop((lot, one.cells["key"]), None)
            holds[lot, one.cells["key"]] = _raised(day, one, lot, because, known, lifts)
    urgency = {one.cells["key"]: one.cells["urgency"] for one in kept}
    for place, cells in carried.items():
        now = cells | {"urgency": urgency.get(cells["key"], cells["urgency"])}
        holds[place] = _settled(day, now, lifts, {})
    for act, hold in day.world.acts.of(Hold):
        if day.world.start_ms <= act.at_ms < day.world.end_ms:
            holds[hold.lot, act.ref] = _settled(day, _by_hand(day, act, hold), lifts, {})
    settled = {one.cells["key"]: one.cells for one in kept if one.cells["number"] == IN_DOUBT}
    return [_with_doubt_settled(day, holds[place], settled.get(place[1])) for place in sorted(holds)]


def _with_doubt_settled(day: Day, cells: Cells, doubt: Cells | None) -> Cells:
    """Return a hold, lifted where the doubt it stands for is closed: one signature closes all of an X06."""
    if doubt is None or doubt["state"] != "closed" or cells["state"] == LIFTED:
        return cells
    ms = next((act.at_ms for act in day.world.acts.all if act.ref == doubt["closed_by"]), day.world.at_ms)
    return cells | {"state": LIFTED, "lifted_at": local_text(ms, day.world.zone), "lifted_by": doubt["closed_by"]}


def lifts_of(day: Day) -> list[Lift]:
    """Return every signed act that ends holds, oldest first; a disposition that may not be ends none."""
    void = void_dispositions(day)
    lifts = [_lift(day, act, Deed.LIFT_HOLD, lift) for act, lift in day.world.acts.of(HoldLift)]
    lifts += [
        _lift(day, act, Deed.REQUEST if done.choice is Choice.USE_AS_IS else Deed.DISPOSE, done)
        for act, done in day.world.acts.of(Disposition)
        if done.ends_hold and act.ref not in void
    ]
    return sorted((lift for lift in lifts if lift is not None), key=lambda lift: lift.act.sort_key)


def _lift(day: Day, act: ActAt, deed: Deed, done: HoldLift | Disposition) -> Lift | None:
    """Return what a signed act ends; none where whoever signed had no authority, or the second is missing for good."""
    if not day.world.may_sign(act, deed):
        return None
    is_seconded = day.world.second_of(act, deed) is not None
    if deed is Deed.REQUEST and not is_seconded:
        return None
    readings = frozenset(done.readings) if isinstance(done, Disposition) else frozenset[str]()
    return Lift(act, done.lot, frozenset(done.exceptions), readings, is_seconded)


def _raised(day: Day, one: Kept, lot: str, rows: list[int], known: Cells | None, lifts: list[Lift]) -> Cells:
    assert one.raised is not None
    known_ms = {day.pages.ref(row): max(int(day.ms[row]), int(day.pages.received_at_ms[row])) for row in rows}
    since_ms = min((int(day.ms[row]) for row in rows), default=one.raised.opened_ms)
    since = local_text(since_ms, day.world.zone) if known is None else known["since"]
    earlier = set() if known is None else _refs(known)
    return _settled(day, _cells(one.cells, lot, since, earlier | set(known_ms)), lifts, known_ms)


def _settled(day: Day, cells: Cells, lifts: list[Lift], known_ms: dict[str, int]) -> Cells:
    """Return the hold, lifted where acts cover all its readings.

    A reading of an earlier day that is no longer at hand was known from the start of this day: it stood in the ledger.
    """
    waiting, since_ms = _refs(cells), text_ms(cells["since"])
    is_covered = any(lift.is_about(cells) and lift.act.at_ms >= since_ms for lift in lifts)
    known_ms = ({ref: _came_ms(day, ref) for ref in waiting if is_covered}) | known_ms
    for lift in lifts:
        if not lift.is_about(cells) or lift.act.at_ms < since_ms:
            continue
        if lift.readings:
            waiting -= lift.readings
        else:
            waiting = {ref for ref in waiting if known_ms[ref] > lift.act.at_ms}
        if not waiting:
            at = local_text(lift.act.at_ms, day.world.zone)
            return cells | {"state": LIFTED, "lifted_at": at, "lifted_by": lift.act.ref}
    return cells


def _came_ms(day: Day, ref: str) -> int:
    """Return when a reading of an earlier day was made and in; the start of this day where it is not at hand."""
    rows = rows_of_page(day.pages, ref)
    return max((max(int(day.ms[row]), int(day.pages.received_at_ms[row])) for row in rows), default=day.world.start_ms)


def _refs(cells: Cells) -> set[str]:
    return {ref for ref in cells["pages"].split(";") if ref}


def _by_hand(day: Day, act: ActAt, hold: Hold) -> Cells:
    about = {"key": act.ref, "number": _BY_HAND, "name": hold.reason, "urgency": "B"}
    return _cells(about, hold.lot, local_text(act.at_ms, day.world.zone), set())


def _cells(exception: Cells, lot: str, since: str, refs: set[str]) -> Cells:
    return {
        "lot": lot,
        "key": exception["key"],
        "number": exception["number"],
        "name": exception["name"],
        "urgency": exception["urgency"],
        "since": since,
        "pages": ";".join(sorted(refs)),
        "state": HELD,
        "lifted_at": "",
        "lifted_by": "",
    }
