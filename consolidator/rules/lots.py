"""Rules about lot and route: X44 to X52, X62, X63, X84.

A reading is judged under the part, revision and plan in force at its effective time.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Flags, Ints, joined_key
from consolidator.frame.verdicts import NOT_JUDGED, VERDICTS
from consolidator.frame.words import many, say_time
from consolidator.frame.world import ActAt
from consolidator.production.rework import checked_after_rework, forbidden_rework, re_taps_of, tapped_too_often
from consolidator.rules.found import Found, LastRule, OpenSpan, Rule, Story, found, found_causes, rows_of, say_piece
from consolidator.rules.kinds import Effect
from kiosk.pages.desk import Disposition, LotShip, OperationSignOff
from kiosk.pages.station import Changeover, HeatScan
from kiosk.pages.words import SampleKind

PRODUCTION: Final = (SampleKind.SET_UP, SampleKind.FIRST, SampleKind.RUN, SampleKind.LAST)
"""Kinds of sample that mean a lot is being worked at the station, not looked at again."""
_SHIFT_MS: Final = 8 * 3_600_000


def unknown_lot(day: Day) -> list[Found]:
    """X44: the lot is not in the register at close of day."""

    def tell(row: int) -> str:
        lot = day.pages.lot.at(row)
        return f"{lot} is not in the register of lots." if lot else "No lot stands with the reading."

    return found("X44", rows_of(day, day.plans.lot_row < 0), day.pages.lot, tell)


def other_part(day: Day) -> list[Found]:
    """X45: the lot's part is not the part of the plan used; holds both lots."""
    of_lot = np.array([*(day.pages.part.code_of(lot.part) for lot in day.plans.lots), -1], np.int64)
    wrong = (day.plans.lot_row >= 0) & (of_lot[day.plans.lot_row] != day.pages.part.codes)
    rows = rows_of(day, wrong)

    def tell(row: int) -> str:
        lot = day.plans.lots[int(day.plans.lot_row[row])]
        return f"{lot.number} is of part {lot.part}; it was measured by the plan of {day.pages.part.at(row)}."

    return found("X45", rows, day.pages.lot, tell, also_holds=_other_lots(day, rows, wrong))


def after_close(day: Day) -> list[Found]:
    """X46: the effective time is past the close of the lot; at the very moment of the close it is not."""
    steps, _, acts = day.lots.closings
    place = steps.at(day.pages.lot.codes, day.ms - 1)
    closed = _is_closed(day, day.ms)

    def tell(row: int) -> str:
        at, read = say_time(acts[int(place[row])].at_ms, day.world.zone), say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.lot.at(row)} was closed {at}, read {read}."

    return found("X46", rows_of(day, closed), day.pages.lot, tell)


def closed_too_soon(day: Day) -> list[Found]:
    """X47: taken up to the close of the lot, arrived after it, while the lot is closed."""
    steps, _, acts = day.lots.closings
    now = steps.at(day.pages.lot.codes, day.pages.received_at_ms - 1)
    late = _is_closed(day, day.pages.received_at_ms) & ~_is_closed(day, day.ms)

    def tell(row: int) -> str:
        at = say_time(acts[int(now[row])].at_ms, day.world.zone)
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.lot.at(row)} was closed {at} before this page was in, read {read}."

    rows = rows_of(day, late)
    return found("X47", rows, day.pages.lot, tell, urgency=day.verdicts.is_bad[rows])


def out_of_order(day: Day) -> list[Found]:
    """X48: an operation whose plan may not start before another is signed off; it was not, at the effective time."""
    pairs = sorted({(off.lot, off.operation) for _, off in day.world.acts.of(OperationSignOff)})
    place_of = {pair: at for at, pair in enumerate(pairs)}
    offs = day.world.acts.of(OperationSignOff)
    steps = Steps.of([place_of[off.lot, off.operation] for _, off in offs], [act.at_ms for act, _ in offs])
    after = [plan.after_operation for plan in day.plans.plans]
    rows = rows_of(day, np.array([*(word is not None for word in after), False], bool)[day.plans.plan_row])
    needed = [after[int(day.plans.plan_row[row])] or "" for row in rows.tolist()]
    lots = [day.pages.lot.at(row) for row in rows.tolist()]
    codes = np.array([place_of.get(pair, -1) for pair in zip(lots, needed, strict=True)], np.int64)
    is_open = steps.at(codes, day.ms[rows]) < 0 if len(rows) else np.zeros(0, bool)

    def tell(row: int) -> str:
        word = after[int(day.plans.plan_row[row])]
        lot, here = day.pages.lot.at(row), day.pages.operation.at(row)
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"Operation {word} of {lot} was not signed off; operation {here} read {read}."

    return found("X48", rows[is_open], day.pages.lot, tell)


def is_old_plan(day: Day) -> Flags:
    """Tell which readings were taken by another revision or plan version than the one in force."""
    in_force = np.array([*(day.pages.revision.code_of(word) for word in day.plans.revision.labels), -1], np.int64)
    other_revision = in_force[day.plans.revision.codes] != day.pages.revision.codes
    version = np.array([*(day.pages.plan_version.code_of(p.version) for p in day.plans.plans), -9], np.int64)
    other_version = (day.plans.plan_row >= 0) & (version[day.plans.plan_row] != day.pages.plan_version.codes)
    return np.asarray(other_revision | other_version)


def old_revision(day: Day) -> list[Found]:
    """X49: the plan at the kiosk is not the one in force; judged again, both verdicts stand."""
    is_old = is_old_plan(day)
    is_gone = day.plans.characteristic_row < 0
    changed = is_old & (_kiosk_verdict(day) != day.verdicts.verdict)

    def tell(row: int) -> str:
        lot, read = day.pages.lot.at(row), say_time(int(day.ms[row]), day.world.zone)
        page = f"revision {day.pages.revision.at(row)}, plan {day.pages.plan_version.at(row)}"
        place = int(day.plans.plan_row[row])
        version = f", plan {day.plans.plans[place].version}" if place >= 0 else ""
        now = f"revision {day.plans.revision.at(row)}{version}"
        if is_gone[row] and not is_old[row]:
            return f"{now} has no characteristic {day.pages.characteristic.at(row)}; {lot} read {read}."
        verdicts = f"kiosk {day.pages.verdict.at(row)}, now {VERDICTS[int(day.verdicts.verdict[row])]}"
        return f"{lot} was judged by {page}; in force then was {now} ({verdicts}), read {read}."

    return [
        *found("X49", rows_of(day, is_old & ~is_gone), day.pages.lot, tell, holds=changed),
        *found("X49", rows_of(day, is_gone), day.pages.lot, tell, effect=Effect.BLOCKED, holds=is_gone),
    ]


def two_lots_mixed(day: Day) -> list[Found]:
    """X50: readings of two lots take turns at one station without a changeover in between."""
    rows = np.flatnonzero(day.pages.sample_kind.is_one_of(*PRODUCTION) & (day.replaced_by < 0))
    rows = rows[(day.ms[rows] >= day.world.start_ms - _SHIFT_MS) & (day.ms[rows] < day.world.end_ms)]
    rows = rows[np.lexsort((day.pages.number[rows], day.ms[rows], day.pages.station.codes[rows]))]
    if not len(rows):
        return []
    starts = np.ones(len(rows), bool)
    lot, station = day.pages.lot.codes[rows], day.pages.station.codes[rows]
    starts[1:] = (lot[1:] != lot[:-1]) | (station[1:] != station[:-1])
    runs = np.flatnonzero(starts)
    spans = [rows[start:end] for start, end in zip(runs, [*runs[1:], len(rows)], strict=True)]
    clear = _changeovers(day)
    mixed: dict[int, tuple[str, str]] = {}
    last: dict[tuple[int, int], int] = {}
    for at, span in enumerate(spans):
        here, what = int(day.pages.station.codes[span[0]]), int(day.pages.lot.codes[span[0]])
        before = last.get((here, what))
        if before is not None and not _all_cleared(day, spans[before : at + 1], clear.get(here, [])):
            pair = _pair(day, spans[before + 1 : at], what)
            for each in spans[before : at + 1]:
                for row in each.tolist():
                    mixed.setdefault(row, pair)
        last[here, what] = at
    chosen = [row for row in sorted(mixed) if day.is_in_day[row]]

    def tell(row: int) -> str:
        first, second = mixed[row]
        return f"Readings of {first} and {second} take turns at {day.pages.station.at(row)} without a changeover."

    causes = [" and ".join(mixed[row]) for row in chosen]
    others = tuple((lot, row) for row in chosen for lot in mixed[row])
    return found_causes("X50", chosen, causes, tell, also_holds=others)


def worked_on_hold(day: Day) -> list[Found]:
    """X51: worked while a hold known at that time stood on the lot."""
    steps, is_held, from_ms = day.lots.holds_known
    place = steps.at(day.pages.lot.codes, day.ms)
    on_hold = np.append(is_held, False)[place]
    is_work = day.pages.sample_kind.is_one_of(*PRODUCTION)

    def tell(row: int) -> str:
        since, read = (say_time(int(ms), day.world.zone) for ms in (from_ms[int(place[row])], day.ms[row]))
        return f"{day.pages.lot.at(row)} was on hold {since}, worked {read}."

    return found("X51", rows_of(day, on_hold & is_work), day.pages.lot, tell)


def wrong_heat(day: Day) -> list[Story]:
    """X52: the heat scanned on the material is another than the register has for the lot; the lot is held."""
    stories = []
    for act, scan in day.world.acts.of(HeatScan):
        lot = day.world.lists.lot(scan.lot)
        is_other = lot is not None and lot.heat is not None and lot.heat != scan.heat
        if lot is None or not is_other or not day.world.start_ms <= act.at_ms < day.world.end_ms:
            continue
        how = "typed" if scan.typed else "scanned"
        sentence = f"Heat {scan.heat} was {how} for {scan.lot}, whose heat is {lot.heat}, {_said(day, act.at_ms)}."
        stories.append(
            Story(
                "X52", scan.lot, sentence, act.at_ms, lots=(scan.lot,), stations=(act.page.station,),
                pages=(act.ref,), holds=(scan.lot,),
            )
        )  # fmt: skip
    return stories


def forbidden_on_thread(day: Day) -> list[Found | Story]:
    """X62: a rolled external thread was to be worked on again, or was measured after it; nothing makes it good."""

    def tell(row: int) -> str:
        kind = day.pages.sample_kind.at(row)
        return f"{say_piece(day, row)}: {kind}, of a rolled external thread, read {_said(day, int(day.ms[row]))}."

    findings: list[Found | Story] = [*found("X62", rows_of(day, checked_after_rework(day)), day.pages.lot, tell)]
    for act, done in forbidden_rework(day):
        about = f" for {done.characteristic}" if done.characteristic else ""
        sentence = f"{done.choice.value} was signed{about} of {done.lot}, a rolled external thread"
        findings += _story_of(day, "X62", act, done, f"{sentence}, {_said(day, act.at_ms)}.")
    return findings


def tapped_again_too_often(day: Day) -> list[Found | Story]:
    """X63: a tapped thread tapped again more often than N18 allows."""

    def tell(row: int) -> str:
        allowed = day.world.numbers.at(int(day.ms[row])).re_taps
        read = _said(day, int(day.ms[row]))
        return f"{say_piece(day, row)} was tapped again more than {many(allowed, 'time')}, read {read}."

    findings: list[Found | Story] = [*found("X63", rows_of(day, tapped_too_often(day)), day.pages.lot, tell)]
    for tap in (each for each in re_taps_of(day) if each.is_too_often):
        done = tap.disposition
        sentence = f"Pieces of {done.lot} were tapped again {many(tap.times, 'time')}, {tap.allowed} allowed"
        findings += _story_of(day, "X63", tap.act, done, f"{sentence}, signed {_said(day, tap.act.at_ms)}.")
    return findings


def shipped_with_open(day: Day, spans: Sequence[OpenSpan]) -> list[Story]:
    """X84: pieces of a lot left while an exception of urgency A or B stood open on it."""
    stories = []
    for act, ship in day.world.acts.of(LotShip):
        if not day.world.start_ms <= act.at_ms < day.world.end_ms:
            continue
        mine = [each for each in spans if ship.lot in each.lots and each.urgency in ("A", "B")]
        open_ = sorted((each.number, each.opened_ms) for each in mine if each.is_open_at(act.at_ms))
        told = ", ".join(f"{number} since {_said(day, ms)}" for number, ms in open_ if number != "X84")
        if told:
            sentence = f"{many(ship.quantity, 'piece')} of {ship.lot} left {_said(day, act.at_ms)} with open: {told}."
            stories.append(
                Story("X84", ship.lot, sentence, act.at_ms, lots=(ship.lot,), pages=(act.ref,), pieces=ship.quantity)
            )
    return stories


def _story_of(day: Day, number: str, act: ActAt, done: Disposition, sentence: str) -> list[Story]:
    """Return the story of a disposition signed in the day; none of one signed on another day."""
    if not day.world.start_ms <= act.at_ms < day.world.end_ms:
        return []
    lot = (done.lot,)
    return [Story(number, done.lot, sentence, act.at_ms, lots=lot, holds=lot, pages=(act.ref,), pieces=done.pieces)]


def _said(day: Day, ms: int) -> str:
    return say_time(ms, day.world.zone)


def _is_closed(day: Day, ms: Ints) -> Flags:
    """Tell which readings' lots were closed before a moment and not opened again by it; a close works after itself."""
    steps, is_closed, _ = day.lots.closings
    before, now = (np.append(is_closed, False)[steps.at(day.pages.lot.codes, each)] for each in (ms - 1, ms))
    return np.asarray(before & now)


def _kiosk_verdict(day: Day) -> Ints:
    words = [str(verdict) for verdict in VERDICTS]
    return day.pages.verdict.spread(lambda word: words.index(word) if word in words else NOT_JUDGED, NOT_JUDGED)


def _other_lots(day: Day, rows: Ints, wrong: Flags) -> tuple[tuple[str, int], ...]:
    """Return for each wrong row the lot of the plan's part worked nearest to it in its kiosk's pages, if any."""
    pages, others = day.pages, list[tuple[str, int]]()
    where = joined_key([column.codes.astype(np.int64) + 1 for column in (pages.series, pages.part)])
    right = np.flatnonzero(~wrong & (pages.lot.codes >= 0))
    right = right[np.lexsort((pages.number[right], where[right]))]
    borders = np.searchsorted(where[right], np.arange(int(where.max(initial=-1)) + 2))
    for row in rows.tolist():
        mine = right[borders[where[row]] : borders[where[row] + 1]]
        at = int(np.searchsorted(pages.number[mine], pages.number[row]))
        near = mine[max(at - 1, 0) : at + 1].tolist()
        if near:
            nearest = min(near, key=lambda each: (abs(int(pages.number[each]) - int(pages.number[row])), each))
            others.append((pages.lot.at(nearest), row))
    return tuple(others)


def _changeovers(day: Day) -> dict[int, list[tuple[int, str]]]:
    """Return the logged changeovers by station: when, and to which lot."""
    logged: dict[int, list[tuple[int, str]]] = {}
    for act, change in day.world.acts.of(Changeover):
        if change.is_line_clear:
            code = day.pages.station.code_of(act.page.station)
            logged.setdefault(code, []).append((act.at_ms, change.to_lot))
    return logged


def _all_cleared(day: Day, spans: list[Ints], logged: list[tuple[int, str]]) -> bool:
    """True when a changeover to the next lot stands between each run and the next."""
    for before, after in pairwise(spans):
        first, last, lot = int(day.ms[before[-1]]), int(day.ms[after[0]]), day.pages.lot.at(int(after[0]))
        if not any(first <= ms <= last and to_lot == lot for ms, to_lot in logged):
            return False
    return True


def _pair(day: Day, between: list[Ints], lot: int) -> tuple[str, str]:
    first, second = sorted((day.pages.lot.labels[lot] if lot >= 0 else "", day.pages.lot.at(int(between[0][0]))))
    return first, second


RULES: Final = (
    Rule("X44", unknown_lot),
    Rule("X45", other_part),
    Rule("X46", after_close),
    Rule("X47", closed_too_soon),
    Rule("X48", out_of_order),
    Rule("X49", old_revision),
    Rule("X50", two_lots_mixed),
    Rule("X51", worked_on_hold),
    Rule("X52", wrong_heat),
    Rule("X62", forbidden_on_thread),
    Rule("X63", tapped_again_too_often),
)

LAST_RULES: Final = (LastRule("X84", shipped_with_open),)
