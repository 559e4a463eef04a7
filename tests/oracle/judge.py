"""The oracle's own close of day: every reading's verdict, standing and exceptions, and what is found besides."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from consolidator.intake.held import Held
from kiosk.lists import Lists
from kiosk.pages.desk import Release
from kiosk.pages.words import Verdict
from tests.oracle.authority import QUALITY, second_of
from tests.oracle.between import (
    LotStory,
    find_double_taps,
    find_lot_marks,
    find_mixed_lots,
    find_time_in_doubt,
    find_too_alike,
    find_too_fast,
    find_two_places,
)
from tests.oracle.checks import mark_checks, mark_rooms, off_temperature
from tests.oracle.corrections import at_once, in_effect, note_corrections
from tests.oracle.dies import mark_dies
from tests.oracle.dues import late_extensions, not_brought_in, void_seconds
from tests.oracle.found_out import Finding, LookBack, Told, look_backs, mark_found_out, told_of
from tests.oracle.gauges import GaugeStory
from tests.oracle.lots import not_accepted, pieces_apart, shipped_with_open, wrong_heats
from tests.oracle.night import Night, Reading
from tests.oracle.people import countersigned, find_off_shift, find_unfit
from tests.oracle.rework import (
    ReTaps,
    failed_proofs,
    forbidden_ways_back,
    foreign_pieces,
    mark_foreign_tests,
)
from tests.oracle.samples import Named, missed_samples, short_samples, skipped_characteristics
from tests.oracle.setups import SetUps
from tests.oracle.single import (
    find_fail_to_pass,
    judge_figure,
    mark_book,
    mark_figure,
    mark_fit,
    mark_gauge,
    mark_plan,
    mark_set_up,
)
from tests.oracle.stories import (
    found_today,
    late_acts,
    missing_pages,
    named_by,
    silent_kiosks,
    unseen_gauges,
    void_approvals,
)
from tests.oracle.trends import find_drift, find_pile

JUDGED = frozenset(f"X{n:02d}" for n in range(1, 85))
"""The kinds the oracle looks for."""
ON_READINGS = JUDGED - {"X22", *(f"X{n}" for n in (39, 40, 41, 42, 43, 52, 54, 69, 70, 72, 79, 80, 82, 83, 84))}
"""Kinds that stand beside readings; the others are about gauges, samples, set-ups or kiosks."""
NAMED = JUDGED - ON_READINGS | {f"X{n:02d}" for n in (7, 8, 34, 56, 57, 61, 62, 63, 64, 71, 76, 77, 81)}
"""Kinds compared by their cause."""
TOLD_EFFECT = {
    "X06": "Flagged", "X09": "Blocked", "X10": "Blocked", "X11": "Flagged",
    "X12": "Blocked", "X21": "Flagged", "X36": "Flagged", "X38": "Flagged", "X48": "Flagged", "X52": "Counts",
    "X56": "Flagged", "X57": "Flagged", "X60": "Blocked", "X61": "Blocked", "X62": "Blocked", "X63": "Blocked",
    "X64": "Flagged", "X68": "Flagged", "X81": "Flagged",
}  # fmt: skip
"""What kinds that the oracle does not look for do to a reading (3.4)."""
_RELEASABLE = frozenset({*(f"X{n:02d}" for n in range(1, 23)), "X53", "X54", "X58", "X59", "X60", "X61"}) | frozenset(
    {"X65", "X66", "X67", "X74"}
)
"""Evidence that was missing and can be brought afterwards (3.3.6)."""
_STANDINGS = ("Counts", "Counts – flagged", "Blocked")


KindsTold = Mapping[tuple[str, str], frozenset[str]]
"""Kinds by page and fingerprint."""


@dataclass(frozen=True)
class Judged:
    """What the oracle says of one reading."""

    verdict: str
    standing: str
    exceptions: frozenset[str]


@dataclass(frozen=True)
class OracleDay:
    """What the oracle says of a day. `named`: kinds with their cause; `undecided`: causes the rules do not settle."""

    readings: Mapping[tuple[str, str], Judged]
    """By page and fingerprint, for two pages may bear one number."""
    named: Named
    undecided: Named
    found_out: frozenset[Told]
    """X07, X08 and X80 with their urgency, the lots they hold and the readings they name."""
    findings: frozenset[Finding]
    """What is found of every reading in question, whatever its day."""


def judge_day(
    held: Held,
    lists: Lists,
    *,
    day: date,
    at_utc: datetime,
    carried: frozenset[str] = frozenset(),
    told: KindsTold | None = None,
    kinds: frozenset[str] = JUDGED,
    raised: Sequence[Mapping[str, str]] = (),
) -> OracleDay:
    """Return what the rules say of a day, by the `kinds` asked for.

    `told` are kinds that somebody else finds, by page and fingerprint; `raised` are the exceptions of the day with
    their times, from which X84 follows.
    """
    night = Night(held, lists, day=day, at_utc=at_utc, carried=carried)
    set_ups, backs = _judge(night, told or {}, {}, kinds)
    corrected = in_effect(night)
    if corrected:
        night = Night(held, lists, day=day, at_utc=at_utc, carried=carried)
        set_ups, backs = _judge(night, told or {}, corrected, kinds)
    skipped, undecided = skipped_characteristics(night)
    named = missed_samples(night) | short_samples(night) | skipped | unseen_gauges(night)
    named |= void_approvals(night, set_ups) | silent_kiosks(night) | missing_pages(night)
    named |= off_temperature(night) | named_by(night, ("X81",), lambda reading: reading.row["gauge"])
    named |= not_brought_in(night) | late_extensions(night) | void_seconds(night)
    short_of, more = not_accepted(night)
    undecided |= more
    named |= shipped_with_open(night, raised)
    named |= wrong_heats(night) | pieces_apart(night) | short_of
    named |= failed_proofs(night, set_ups) | foreign_pieces(night, set_ups) | forbidden_ways_back(night)
    named |= ReTaps(night).named() | named_by(night, ("X61", "X62", "X63"), lambda reading: reading.row["lot"])
    named |= named_by(night, ("X56", "X57", "X64"), set_ups.of_reading)
    named |= late_acts(night) | found_today(night)
    named |= named_by(night, ("X34", "X71", "X76", "X77"), lambda reading: reading.row["series"])
    found_out = told_of(night, backs)
    named |= {(number, cause) for number, cause, *_ in found_out}
    return OracleDay(
        {
            (r.ref, r.row["fingerprint"]): Judged(str(r.verdict), r.standing, frozenset(_written(r)))
            for r in night.readings
            if night.stands_today(r)
        },
        {(number, cause) for number, cause in named if number in kinds},
        undecided,
        frozenset(found_out),
        frozenset(finding for back in backs for finding in back.findings),
    )


def _judge(
    night: Night, told: KindsTold, corrected: Mapping[str, str], kinds: frozenset[str]
) -> tuple[SetUps, list[LookBack]]:
    """Mark and settle every reading; `corrected` are the texts of corrections in effect, by page."""
    for reading in night.readings:
        judge_figure(reading)
    backs = look_backs(night)
    mark_found_out(night, backs)
    at_once(night)
    note_corrections(night, corrected)
    set_ups = SetUps(night)
    gauges = {n: GaugeStory(night, n) for n in {r.row["gauge"] for r in night.readings} if n is not None}
    lots = {n: LotStory(night, n) for n in {r.row["lot"] for r in night.readings} if n is not None}
    for reading in night.readings:
        mark_figure(reading)
        mark_gauge(night, reading, gauges.get(reading.row["gauge"]))
        mark_fit(reading)
        mark_plan(night, reading)
        mark_set_up(night, reading, set_ups)
        mark_book(night, reading)
    find_fail_to_pass(night)
    find_two_places(night)
    find_double_taps(night)
    find_too_alike(night)
    find_too_fast(night)
    find_lot_marks(night, lots)
    find_mixed_lots(night)
    find_unfit(night, countersigned(night))
    find_off_shift(night)
    ReTaps(night).mark()
    mark_foreign_tests(night, set_ups)
    mark_dies(night, set_ups)
    mark_rooms(night)
    find_drift(night)
    find_pile(night)
    mark_checks(night, {row.number: GaugeStory(night, row.number) for row in night.lists.masters})
    find_time_in_doubt(night, gauges, lots, set_ups)
    for reading in night.readings:
        reading.marks = {number: effect for number, effect in reading.marks.items() if number in kinds}
        for number in told.get((reading.ref, reading.row["fingerprint"]), frozenset()):
            reading.mark(number, TOLD_EFFECT.get(number, "Counts"))
    _settle(night)
    return set_ups, backs


def _settle(night: Night) -> None:
    """Settle the standing of every reading: the worst of all; released by two signatures on fresh evidence (3.3.6)."""
    for reading in night.readings:
        effects = set(reading.marks.values())
        is_blocked = "Blocked" in effects or reading.verdict is Verdict.NOT_JUDGED
        reading.standing = _STANDINGS[2 if is_blocked else 1 if "Flagged" in effects else 0]
    for act, release in night.of(Release):
        for reading in night.readings:
            if reading.ref not in release.readings or act.ms < reading.ms:
                continue
            if not any(_is_fresh(night, evidence, reading) for evidence in release.evidence):
                continue
            blocking = {number for number, effect in reading.marks.items() if effect == "Blocked"}
            may = (
                reading.standing == "Blocked" and blocking <= _RELEASABLE and reading.verdict is not Verdict.NOT_JUDGED
            )
            barred = frozenset({reading.taker} - {None})
            if may and second_of(night, act, (QUALITY, QUALITY), barred) is not None:  # type: ignore[arg-type]
                reading.standing = "Released"


def _is_fresh(night: Night, ref: str, reading: Reading) -> bool:
    """True for a page that is held and was made after the reading it is to bear out."""
    times = [each.ms for each in night.readings if each.ref == ref]
    times += [act.ms for act in night.acts if act.page.ref == ref]
    return bool(times) and max(times) >= reading.ms


def _written(reading: Reading) -> list[str]:
    return [number if effect != "tag" else f"{number} tag" for number, effect in reading.marks.items()]
