"""Which lots are held and because of what; a hold stays until a disposition or a lift says so.

Owns what a lift covers: the readings it names, or those that were known when it was signed; never more.
"""

from dataclasses import dataclass
from typing import Final

from consolidator.close.clock_text import local_text
from consolidator.close.closed import Closed
from consolidator.close.exceptions import Cells, Kept
from consolidator.frame import Day
from consolidator.frame.world import ActAt, text_ms
from kiosk.pages.desk import Disposition, Hold, HoldLift

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
    return [holds[place] for place in sorted(holds)]


def lifts_of(day: Day) -> list[Lift]:
    """Return every signed act that ends holds, oldest first."""
    lifts = [(act, lift.lot, lift.exceptions, ()) for act, lift in day.world.acts.of(HoldLift)]
    lifts += [
        (act, done.lot, done.exceptions, done.readings)  # type: ignore[misc]
        for act, done in day.world.acts.of(Disposition)
        if done.ends_hold
    ]
    return [
        Lift(act, lot, frozenset(numbers), frozenset(readings), day.world.acts.second_of(act) is not None)
        for act, lot, numbers, readings in sorted(lifts, key=lambda each: each[0].sort_key)
        if act.signer is not None
    ]


def _raised(day: Day, one: Kept, lot: str, rows: list[int], known: Cells | None, lifts: list[Lift]) -> Cells:
    assert one.raised is not None
    known_ms = {day.pages.ref(row): max(int(day.ms[row]), int(day.pages.received_at_ms[row])) for row in rows}
    since_ms = min((int(day.ms[row]) for row in rows), default=one.raised.opened_ms)
    since = local_text(since_ms, day.world.zone) if known is None else known["since"]
    earlier = set() if known is None else _refs(known)
    return _settled(day, _cells(one.cells, lot, since, earlier | set(known_ms)), lifts, known_ms)


def _settled(day: Day, cells: Cells, lifts: list[Lift], known_ms: dict[str, int]) -> Cells:
    """Return the hold, lifted where acts cover all its readings.

    A reading of an earlier day counts as known from the start of this day, for it stood in the ledger by then.
    """
    waiting, since_ms = _refs(cells), text_ms(cells["since"])
    for lift in lifts:
        if not lift.is_about(cells) or lift.act.at_ms < since_ms:
            continue
        if lift.readings:
            waiting -= lift.readings
        else:
            waiting = {ref for ref in waiting if known_ms.get(ref, day.world.start_ms) > lift.act.at_ms}
        if not waiting:
            at = local_text(lift.act.at_ms, day.world.zone)
            return cells | {"state": LIFTED, "lifted_at": at, "lifted_by": lift.act.ref}
    return cells


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
