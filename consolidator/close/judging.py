"""Running the rules over a night and settling what each reading is worth.

Owns standing: the worst of all kinds that match, and release by two signatures.
"""

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from consolidator.authority import Correcting, Deed, ReMeasured, correction_state, weight_of
from consolidator.authority.corrections import SignedAt
from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints
from consolidator.frame.day import rows_of_page
from consolidator.frame.pages import NO_TIME
from consolidator.frame.verdicts import ACCEPT, IN, NOT_JUDGED, VERDICTS, verdict_of_text
from consolidator.frame.world import ActAt
from consolidator.rules import JUDGED, KINDS, LATE_RULES, RULES, Effect, Family, Found, Rule, Story
from consolidator.rules.found import found, of_day, rows_of, say_piece
from kiosk.pages.desk import Release
from kiosk.pages.readings import Correction
from kiosk.pages.words import Source, Standing

RELEASED: Final = 3
STANDINGS: Final = (Standing.COUNTS, Standing.FLAGGED, Standing.BLOCKED, Standing.RELEASED)


@dataclass(frozen=True)
class Judging:
    """What the rules found in a night, and what each reading is worth."""

    day: Day
    found: list[Found]
    stories: list[Story]
    standing: Ints
    """Place in `STANDINGS` for each row."""
    released_by: dict[int, str]
    """Row of a released reading, with the pages that released it."""


def judge_day(day: Day, more: tuple[Rule, ...] = ()) -> Judging:
    """Run every rule over a night and settle the standing of every reading, corrections in effect included (3.5).

    `more` are rules that need what lies outside the night, such as look-backs.
    """
    judging = _judged(day, more)
    for row, text, pages in _corrections_in_effect(judging):
        day = day.with_correction(row, text, pages)
    return judging if day is judging.day else _judged(day, more)


def _judged(day: Day, more: tuple[Rule, ...]) -> Judging:
    # A rule that sees further takes the place of the usual one of its kind.
    further = {rule.number for rule in more}
    rules = (*(rule for rule in RULES if rule.number not in further), *more)
    findings = [each for rule in rules for each in rule.find(day)]
    findings += told_by_kiosk(day, JUDGED | {rule.number for rule in more})
    on_readings = [each for each in findings if isinstance(each, Found)]
    stories = [each for each in findings if isinstance(each, Story)]
    standing, may_release = _standing(day, on_readings)
    on_readings = [each for each in (of_day(day, one) for one in on_readings) if len(each.rows)]
    released = _released(day, standing, may_release)
    standing[list(released)] = RELEASED
    stories += [story for rule in LATE_RULES for story in rule.find(day, standing)]
    return Judging(day, on_readings, stories, standing, released)


def told_by_kiosk(day: Day, judged: frozenset[str]) -> list[Found]:
    """Return what kiosks found of kinds that close of day does not look for itself, such as a missing zero check.

    A station knows its own book; what it says against a reading stands until close of day can judge it.
    """
    findings: list[Found] = []
    for number, kind in KINDS.items():
        if number in judged:
            continue
        labels = [number in label.split(";") for label in day.pages.reasons.labels]
        rows = rows_of(day, np.array([*labels, False], bool)[day.pages.reasons.codes])
        by = {Family.GAUGE: day.pages.gauge, Family.SET_UP: day.pages.set_up}.get(kind.family, day.pages.lot)
        findings += found(number, rows, by, partial(_said_by_kiosk, day, number))
    return findings


def _said_by_kiosk(day: Day, number: str, row: int) -> str:
    return f"{day.pages.series.at(row)} said {number}, {KINDS[number].name.lower()}, of {say_piece(day, row)}."


def _standing(day: Day, findings: list[Found]) -> tuple[Ints, Flags]:
    """Return the worst effect of all findings for each row, and whether everything that blocks it may be released."""
    # A reading without a verdict is no evidence, whatever else is found.
    standing = np.where(day.verdicts.verdict == NOT_JUDGED, int(Effect.BLOCKED), int(Effect.COUNTS)).astype(np.int64)
    may_release = day.verdicts.verdict != NOT_JUDGED
    for each in findings:
        effect = each.kind.effect if each.effect is None else each.effect
        if each.is_tag or effect <= Effect.COUNTS:
            continue
        standing[each.rows] = np.maximum(standing[each.rows], int(effect))
        if effect == Effect.BLOCKED and not KINDS[each.number].may_be_released:
            may_release[each.rows] = False
    return standing, may_release


def _corrections_in_effect(judging: Judging) -> list[tuple[int, str, str]]:
    """Return the readings that corrections make good, with the new text and the pages that bear it.

    What a correction needs is settled in `consolidator.authority`; a later one for the worse undoes it.
    """
    day, found = judging.day, list[tuple[int, str, str]]()
    by_reading: dict[str, list[tuple[ActAt, Correction]]] = {}
    for act, correction in day.world.acts.of(Correction):
        if correction.field == "value" and act.signer is not None:
            by_reading.setdefault(correction.of, []).append((act, correction))
    for ref, corrections in sorted(by_reading.items()):
        rows = rows_of_page(day.pages, ref)
        if len(rows) != 1 or not day.is_in_day[rows[0]]:
            continue
        act, correction = corrections[-1]
        after = verdict_of_text(day.pages, day.plans, day.values, rows[0], correction.new)
        is_good_now = day.verdicts.verdict[rows[0]] in (IN, ACCEPT)
        if after not in (IN, ACCEPT) or is_good_now:
            continue
        state = correction_state(_correcting(judging, rows[0], act, correction))
        if state.is_effective:
            seconds = [each.ref for each in day.world.acts.seconds_of(act) if each.signer in state.signed_by]
            found.append((rows[0], correction.new, ";".join([act.ref, *seconds, *state.re_measured_by])))
    return found


def _correcting(judging: Judging, row: int, act: ActAt, correction: Correction) -> Correcting:
    day, operation = judging.day, judging.day.pages.operation.at(row)
    place = int(day.plans.characteristic_row[row])
    before, after = (
        VERDICTS[int(day.verdicts.verdict[row])],
        verdict_of_text(day.pages, day.plans, day.values, row, correction.new),
    )
    return Correcting(
        ref=act.ref,
        correction=correction,
        at_ms=act.at_ms,
        first=_signed(day, act, operation, is_second=False),
        weight=weight_of("value", before, VERDICTS[after], is_from_paper=day.pages.source.at(row) == Source.PAPER),
        taker=day.pages.taken_by.at(row) or day.pages.person.at(row),
        piece=int(day.pages.piece[row]),
        planned=day.plans.characteristics[place].sample_n if place >= 0 else 0,
        seconds=tuple(_signed(day, each, operation, is_second=True) for each in day.world.acts.seconds_of(act)),
        re_measures=tuple(_measured_again(judging, row)),
    )


def _signed(day: Day, act: ActAt, operation: str, *, is_second: bool) -> SignedAt:
    is_authorised = day.world.may_sign(act, Deed.CORRECT, is_second=is_second, operation=operation)
    return SignedAt(act.signer or "", act.at_ms, act.ref, is_authorised)


def _measured_again(judging: Judging, row: int) -> list[ReMeasured]:
    """Return the readings that measure a piece again: of the same lot and characteristic, later, and judged here."""
    day, pages = judging.day, judging.day.pages
    again = pages.re_measure_of.is_one_of(pages.ref(row)) & day.is_judged & (day.replaced_by < 0)
    for column in (pages.lot, pages.part, pages.operation, pages.characteristic, pages.position):
        again &= column.codes == column.codes[row]
    rows = np.flatnonzero(again & (day.ms >= day.ms[row])).tolist()
    verdicts, standing = day.verdicts.verdict, judging.standing
    return [
        ReMeasured(
            pages.ref(at),
            int(day.ms[at]),
            int(pages.piece[at]),
            is_good=int(verdicts[at]) in (IN, ACCEPT),
            # Blocked and bad still speaks against it (3.3.5); blocked and good is no evidence.
            counts=int(standing[at]) != Effect.BLOCKED or bool(day.verdicts.is_bad[at]),
        )
        for at in rows
    ]


def _released(day: Day, standing: Ints, may_release: Flags) -> dict[int, str]:
    """Return the blocked rows that two persons released, with the pages that did it.

    Evidence is fresh when a page of it is held and was made after the reading; what was known before it is no news.
    """
    releases = [(act, release) for act, release in day.world.acts.of(Release) if release.evidence]
    if not releases:
        return {}
    row_of = {day.pages.ref(row): row for row in np.flatnonzero((standing == Effect.BLOCKED) & may_release).tolist()}
    released: dict[int, str] = {}
    made = _made_ms(day, {ref for _, release in releases for ref in release.evidence})
    for act, release in releases:
        for ref in release.readings:
            row = row_of.get(ref)
            second = None if row is None else _second(day, act, row)
            if row is None or second is None or act.at_ms < int(day.ms[row]):
                continue
            if any(made[evidence] >= int(day.ms[row]) for evidence in release.evidence):
                released.setdefault(row, f"{act.ref};{second.ref}")
    return released


def _made_ms(day: Day, refs: set[str]) -> dict[str, int]:
    """Return when pages that bear releases out were made: never for one not held, now for one no longer at hand."""
    acts = {act.ref: act.at_ms for act in day.world.acts.all if act.ref in refs}
    made: dict[str, int] = {}
    for ref in refs:
        series, _, number = ref.rpartition("/")
        is_held = any(run.first <= int(number) <= run.last for run in day.world.held.runs.get(series, ()))
        times = [int(day.ms[row]) for row in rows_of_page(day.pages, ref)]
        made[ref] = max(times, default=acts.get(ref, day.world.at_ms)) if is_held else NO_TIME
    return made


def _second(day: Day, act: ActAt, row: int) -> ActAt | None:
    """Return the valid second signature of a release of one reading; the person who took it may sign neither."""
    taker = day.pages.taken_by.at(row) or day.pages.person.at(row)
    if act.signer is None or act.signer == taker:
        return None
    return day.world.second_of(act, Deed.RELEASE, barred=frozenset({taker}))
