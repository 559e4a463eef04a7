"""Judging one reading: verdict, standing and every reason that matches."""

from datetime import datetime, tzinfo

from kiosk.errors import NotANumber
from kiosk.judge._figures import figures_of
from kiosk.judge._gauge_reasons import fit_reasons, gauge_reasons
from kiosk.judge._given import Around, Given, Judged
from kiosk.judge._people import heat_reasons, lapsed_effect, people_reasons
from kiosk.judge._reasons import (
    Scene,
    is_not_judged,
    lot_reasons,
    reading_reasons,
    slips_of,
    why_not_judged,
    worst_standing,
)
from kiosk.judge._verdict import shown, verdict_of
from kiosk.lists import Lists
from kiosk.measure.decimals import read_figure, to_decimal, write_figure
from kiosk.measure.slips import PLUS_MINUS
from kiosk.pages.words import Source, Standing, Verdict


def judge(given: Given, lists: Lists, around: Around, *, moment: datetime, zone: tzinfo) -> Judged:
    """Return verdict, standing and all reasons of a reading taken at `moment`, as far as this kiosk can know.

    Raises:
        NotANumber: a figure is needed and what was keyed is none.
    """
    scene = _scene(given, lists, around, moment, zone)
    verdict = verdict_of(given, scene.figures)
    found = slips_of(scene, verdict)
    asked = tuple(slip for keying in given.earlier for slip in keying.asked)
    if not asked and is_not_judged(found):
        verdict = Verdict.NOT_JUDGED
    is_known_slip = not asked and is_not_judged(found)
    reasons = {
        *gauge_reasons(scene),
        *fit_reasons(scene),
        *reading_reasons(scene, verdict),
        *lot_reasons(scene),
        *people_reasons(scene),
        *heat_reasons(scene),
        *(asked or found),
        *(() if is_known_slip else why_not_judged(scene, verdict)),
    }
    if verdict in (Verdict.IN, Verdict.ACCEPT) and _was_bad_unasked(scene):
        reasons.add("X31")
    named = tuple(sorted(reasons))
    return Judged(
        verdict=verdict,
        standing=worst_standing(named, _here(given, asked, verdict, scene)),
        reasons=named,
        value=None if scene.figures.value is None else write_figure(scene.figures.value),
        shown=shown(given, scene.figures, verdict),
        computed_from=scene.figures.computed_from,
    )


def question(given: Given, lists: Lists, around: Around, *, moment: datetime, zone: tzinfo) -> tuple[str, ...]:
    """Return the slips to ask about before the reading is kept; empty when it is to be judged as it stands.

    Asked at most once a reading, and only of a person who keyed it: never of paper, never of an instrument.

    Raises:
        NotANumber: a figure is needed and what was keyed is none.
    """
    if given.source is not Source.KEYED or any(keying.asked for keying in given.earlier):
        return ()
    scene = _scene(given, lists, around, moment, zone)
    return slips_of(scene, verdict_of(given, scene.figures))


def _scene(given: Given, lists: Lists, around: Around, moment: datetime, zone: tzinfo) -> Scene:
    return Scene(
        given=given,
        figures=figures_of(given, lists, moment),
        lists=lists,
        numbers=lists.numbers(moment),
        around=around,
        moment=moment,
        zone=zone,
    )


def _here(given: Given, asked: tuple[str, ...], verdict: Verdict, scene: Scene) -> dict[str, Standing]:
    """Return the reasons that weigh differently here; a reading without a verdict always is blocked."""
    tags = {} if verdict is Verdict.NOT_JUDGED else _for_the_record(given, asked)
    return {**tags, **lapsed_effect(scene)}


def _for_the_record(given: Given, asked: tuple[str, ...]) -> dict[str, Standing]:
    """Return the slips that do nothing to the standing: those asked about, and a mirrored deviation never asked about.

    A deviation that was asked about and keyed anew with another figure stays flagged.
    """
    if not asked:
        return {PLUS_MINUS: Standing.COUNTS}
    asked_text = next(keying.text for keying in reversed(given.earlier) if keying.asked)
    is_believed = _is_same(asked_text, given.keyed)
    return {slip: Standing.COUNTS for slip in asked if slip != PLUS_MINUS or is_believed}


def _is_same(text: str, other: str) -> bool:
    try:
        return to_decimal(read_figure(text)) == to_decimal(read_figure(other))
    except NotANumber:
        return text == other


def _was_bad_unasked(scene: Scene) -> bool:
    """True when a keying that this one takes the place of, unasked, was out and believable (X31)."""
    given = scene.given
    if given.replaced_verdict is not None and given.replaced_verdict.is_bad:
        return True
    for keying in given.earlier:
        if keying.asked:
            continue
        before = given.model_copy(update={"keyed": keying.text, "earlier": (), "replaced_verdict": None})
        if _is_believable_and_bad(before, scene):
            return True
    return False


def _is_believable_and_bad(before: Given, scene: Scene) -> bool:
    try:
        past = _scene(before, scene.lists, scene.around, scene.moment, scene.zone)
    except NotANumber:
        return False
    verdict = verdict_of(before, past.figures)
    return verdict.is_bad and not is_not_judged(slips_of(past, verdict))
