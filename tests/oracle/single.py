"""What is found of a reading by itself: its verdict, its slips, its gauge, lot, plan and kiosk (3.2, 3.4).

Each function marks kinds on one reading; none looks at other readings, but for keyings of the same piece.
"""

import json
from fractions import Fraction
from typing import Any

from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind
from kiosk.pages.desk import OperationSignOff, Seal
from kiosk.pages.words import KeyedAs, SampleKind, Source, Verdict
from kiosk.times import shift_bounds_utc, shift_of
from tests.oracle.figures import (
    FIGURES,
    GAUGED,
    alike,
    comparable,
    figure_of,
    in_unit,
    is_mirror_in,
    is_same_thread,
    limits_of,
    number_in,
    slips_of,
    verdict_of,
    window_of,
    wires_fit,
)
from tests.oracle.gauges import GaugeStory
from tests.oracle.night import ON_MACHINE, RUN, Night, Reading
from tests.oracle.setups import SetUps
from tests.oracle.times import moment_of, ms_of

_GOOD = (Verdict.IN, Verdict.ACCEPT)
_THREAD_GAUGES = (GaugeKind.THREAD_RING, GaugeKind.THREAD_PLUG, GaugeKind.INDICATING_THREAD)


def judge_figure(reading: Reading) -> None:
    """Settle verdict and slips: X26 to X30, and why there is no verdict."""
    what, keyed = reading.what, reading.row["keyed"]
    asked = [keying for keying in _earlier(reading) if keying.get("asked")]
    reading.asked = frozenset(number for keying in asked for number in keying["asked"])
    for number in reading.asked:
        is_believed = _is_same_figure(asked[-1]["text"], keyed)
        reading.mark(number, "Flagged" if number == "X29" and not is_believed else "tag")
    if what is None:
        return  # not judged, and X49 says so
    reading.verdict = verdict_of(keyed, reading.value, what)
    slips = frozenset() if asked else slips_of(keyed, reading.how, what, reading.numbers)
    if slips:
        reading.verdict = Verdict.NOT_JUDGED
    for number in slips:
        reading.mark(number, "Blocked")
    if not asked and is_mirror_in(keyed, reading.how, what):
        reading.mark("X29", "tag")
    reading.keyed_verdict = reading.verdict
    if reading.verdict is Verdict.NOT_JUDGED and not slips:
        _mark_why_not_judged(reading)


def _mark_why_not_judged(reading: Reading) -> None:
    what = reading.what
    assert what is not None
    if what.kind in FIGURES and not alike(reading.row["unit"], what.unit):
        reading.mark("X27", "Blocked")
    elif not (what.rule == "over wires" and not wires_fit(what, reading.how.master)):
        reading.mark("X30", "Blocked")


def _earlier(reading: Reading) -> list[dict[str, Any]]:
    return json.loads(reading.row["earlier"] or "[]")  # type: ignore[no-any-return]


def _is_same_figure(text: str, other: str) -> bool:
    first, second = number_in(text), number_in(other)
    return text == other if first is None or second is None else first == second


def find_fail_to_pass(night: Night) -> None:
    """Mark X31: out, then keyed anew unasked as in, however many keyings lie between."""
    for reading in night.readings:
        if reading.keyed_verdict not in _GOOD:
            continue
        page: Reading | None = reading
        while page is not None:
            if page is not reading and page.keyed_verdict.is_bad:
                reading.mark("X31", "Flagged")
            if any(_was_wiped_bad(page, keying) for keying in _earlier(page)):
                reading.mark("X31", "Flagged")
            page = page.replaces


def _was_wiped_bad(reading: Reading, keying: dict[str, Any]) -> bool:
    """True for a keying wiped off the screen unasked that was bad and believable."""
    what, text = reading.what, str(keying["text"])
    if keying.get("asked") or what is None:
        return False
    value = comparable(figure_of(text, reading.how).value, reading.row["unit"], what)
    if not verdict_of(text, value, what).is_bad:
        return False
    limits = limits_of(what)
    is_figure = what.kind in FIGURES and limits is not None and value is not None
    return not is_figure or window_of(limits, reading.numbers).has(value)  # type: ignore[arg-type]


def mark_figure(reading: Reading) -> None:
    """Mark X23 to X25."""
    what, value = reading.what, reading.value
    if what is None:
        return
    if reading.verdict.is_bad:
        reading.mark("X23", "Counts")
    if reading.verdict is not Verdict.IN or value is None:
        return
    if what.shop_limit is not None:
        shop = Fraction(what.shop_limit)
        is_above = what.kind is CharacteristicKind.UPPER and value > shop
        if is_above or (what.kind is CharacteristicKind.LOWER and value < shop):
            reading.mark("X24", "Flagged")
    limits = limits_of(what)
    if what.guard_band is not None and limits is not None:
        sides = [side for side in (limits.lower, limits.upper) if side is not None]
        if any(abs(value - side) < Fraction(what.guard_band) for side in sides):
            reading.mark("X25", "Flagged")


def mark_gauge(night: Night, reading: Reading, story: GaugeStory | None) -> None:
    """Mark X01 to X05 and X13: the gauge's own state and place at the time of the reading."""
    _mark_unknown(reading)
    if story is None or reading.row["gauge"] is None:
        return
    if story.is_in_trouble(reading.ms):
        reading.mark("X05", "Blocked")
    if reading.gauge is None:
        return
    due = story.due_at(reading.ms)
    if due is not None and reading.ms >= due[1]:
        reading.mark("X01", "Blocked")
    elif due is not None:
        day, shift = shift_of(moment_of(reading.ms), night.zone)
        if due[1] <= ms_of(shift_bounds_utc(day, shift, night.zone)[1]):
            reading.mark("X02", "Counts")
    if not story.is_in_use(reading.ms):
        reading.mark("X04", "Blocked")
    home, here = reading.gauge.home_station, reading.row["station"]
    if home is not None and home != here and story.issued_to(reading.ms) != here:
        reading.mark("X13", "Flagged")


def _mark_unknown(reading: Reading) -> None:
    what, how = reading.what, reading.how
    measured = (*FIGURES, CharacteristicKind.TURNS)
    needs_gauge = what is None or what.kind in measured or bool(what.gauge_kinds)
    is_unknown = reading.gauge is None and (reading.row["gauge"] is not None or needs_gauge)
    is_set = reading.row["keyed_as"] in (KeyedAs.DEVIATION, KeyedAs.DIVISIONS)
    if is_unknown or (is_set and how.is_master_named and how.master is None):
        reading.mark("X03", "Blocked")


def mark_fit(reading: Reading) -> None:
    """Mark X15 to X20: whether the gauge fits what it measured."""
    gauge, what, unit = reading.gauge, reading.what, reading.row["unit"]
    if what is not None and what.rule == "over wires" and not wires_fit(what, reading.how.master):
        reading.mark("X19", "Blocked")
    if gauge is None:
        return
    if what is not None:
        _mark_coarse(reading)
        if what.gauge_kinds and gauge.kind not in what.gauge_kinds:
            reading.mark("X18", "Blocked")
        if gauge.kind in _THREAD_GAUGES and _is_thread_wrong(reading):
            reading.mark("X19", "Blocked")
    shown, own = reading.figure.shown, gauge.unit or unit
    if shown is None or gauge.kind.is_attribute or not alike(unit, own):
        return
    shows = in_unit(shown, unit, own)
    low, high = (None if end is None else Fraction(end) for end in (gauge.range_low, gauge.range_high))
    if (low is not None and shows < low) or (high is not None and shows > high):
        reading.mark("X17", "Blocked")
    if gauge.least_count is not None and Fraction(gauge.least_count):
        step = Fraction(gauge.least_count) / (2 if gauge.half_division else 1)
        if (shows / step).denominator != 1:
            reading.mark("X20", "Flagged")


def share_of(reading: Reading) -> Fraction | None:
    """Return the least count as a share of the tolerance (N4), in per cent; none where the rule does not apply."""
    gauge, what = reading.gauge, reading.what
    if gauge is None or what is None or gauge.least_count is None or what.kind not in FIGURES:
        return None
    limits, unit = limits_of(what), gauge.unit or what.unit
    if limits is None or limits.upper is None or not alike(unit, what.unit):
        return None
    tolerance = limits.upper if limits.lower is None else limits.upper - limits.lower
    return abs(100 * in_unit(Fraction(gauge.least_count), unit, what.unit) / tolerance) if tolerance else None


def _mark_coarse(reading: Reading) -> None:
    share = share_of(reading)
    if share is None:
        return
    if share > Fraction(reading.numbers.too_coarse_percent):
        reading.mark("X16", "Blocked")
    elif share > Fraction(reading.numbers.coarse_percent):
        reading.mark("X15", "Flagged")


def _is_thread_wrong(reading: Reading) -> bool:
    gauge, what = reading.gauge, reading.what
    assert gauge is not None and what is not None
    wanted = what.thread or (None if reading.part is None else reading.part.thread)
    if wanted is not None and (gauge.thread is None or not is_same_thread(gauge.thread, wanted)):
        return True
    return what.member is not None and gauge.member not in (None, what.member)


def mark_plan(night: Night, reading: Reading) -> None:
    """Mark X44, X45, X48, X49 and X75: lot, part, route, revision and lists."""
    row = reading.row
    if reading.lot is None:
        reading.mark("X44", "Blocked")
    elif reading.lot.part != row["part"]:
        reading.mark("X45", "Blocked")
    before = None if reading.plan is None else reading.plan.after_operation
    if before is not None:
        signed = [act.ms for act, off in night.of(OperationSignOff) if (off.lot, off.operation) == (row["lot"], before)]
        if not any(ms <= reading.ms for ms in signed):
            reading.mark("X48", "Flagged")
    is_other_version = reading.plan is not None and reading.plan.version != row["plan_version"]
    is_old = reading.revision != row["revision"] or is_other_version
    if reading.what is None:
        reading.mark("X49", "Blocked")
    elif is_old:
        reading.mark("X49", "Flagged")
    elif row["verdict"] is not None and row["verdict"] != reading.verdict:
        reading.mark("X75", "Flagged")
    taken = row["lists_taken_at_ms"]
    if taken is not None and row["kiosk_time_ms"] - taken > reading.numbers.lists_flagged_h * 3_600_000:
        reading.mark("X75", "Flagged")


def mark_set_up(night: Night, reading: Reading, set_ups: SetUps) -> None:
    """Mark X53, X55 to X59 and X62."""
    plan, kind, set_up = reading.plan, reading.row["sample_kind"], set_ups.of_reading(reading)
    if plan is not None and plan.needs_first_piece and kind in RUN and not set_ups.is_approved(set_up, reading.ms):
        reading.mark("X53", "Blocked")
    needs_proof = plan is not None and plan.needs_fatigue_proof and kind in ON_MACHINE
    if needs_proof and not set_ups.is_proven(set_up, reading.ms):
        reading.mark("X55", "Flagged")
    is_of_set_up = kind in ON_MACHINE or reading.row["set_up"] is not None
    if is_of_set_up and set_ups.is_proof_failed(set_up, reading.ms):
        reading.mark("X56", "Flagged")
    if needs_proof and set_ups.is_changed_since_proof(set_up, reading.ms):
        reading.mark("X57", "Flagged")
    if kind in (SampleKind.RE_WORK, SampleKind.RE_TAP) and _is_rolled(night, reading):
        reading.mark("X62", "Blocked")
    if set_ups.is_heated(reading):
        heat = set_ups.heat_of(reading)
        if heat is None:
            reading.mark("X59", "Flagged")
        elif heat == "hot":
            reading.mark("X58", "Blocked")


def _is_rolled(night: Night, reading: Reading) -> bool:
    """True for a rolled external thread, by the revision in force or by the one that the page names."""
    row = reading.row
    named = night.lists.characteristic(row["part"], row["revision"], row["characteristic"], moment_of(reading.ms))
    return any(each is not None and each.feature is Feature.EXTERNAL_ROLLED_THREAD for each in (reading.what, named))


def mark_book(night: Night, reading: Reading) -> None:
    """Mark X34, X71, X73, X76, X77 and X78: what is known of the page itself."""
    row = reading.row
    if reading.is_conflict:
        reading.mark("X34", "Blocked")
    if any(act.ms < row["received_at_ms"] for act, seal in night.of(Seal) if seal.day == night.day):
        reading.mark("X71", "Counts")
    if reading.made.is_off:
        reading.mark("X73", "Flagged")
    if reading in altered_readings(night):
        reading.mark("X76", "Blocked")
    kiosk = next((k for k in night.held.kiosks if k.series == row["series"]), None)
    withdrawn = None if kiosk is None or kiosk.withdrawn_at is None else ms_of(kiosk.withdrawn_at)
    if kiosk is None or (withdrawn is not None and row["received_at_ms"] > withdrawn):
        reading.mark("X77", "Blocked")
    if row["source"] == Source.PAPER:
        reading.mark("X78", "Flagged")


def altered_readings(night: Night) -> list[Reading]:
    """Return the readings whose page does not fit: by fingerprint where one has it, else all of the number."""
    altered: list[Reading] = []
    for page in night.held.altered:
        same = [r for r in night.readings if (r.row["series"], r.row["number"]) == (page.series, page.number)]
        exact = [r for r in same if r.row["fingerprint"] == page.fingerprint]
        altered += exact or same
    return altered


def is_production(reading: Reading) -> bool:
    """True for readings that mean a lot is worked, not looked at again."""
    return reading.row["sample_kind"] in (SampleKind.SET_UP, SampleKind.FIRST, SampleKind.RUN, SampleKind.LAST)


def is_gauged(reading: Reading) -> bool:
    """True where a word says it and no figure."""
    return reading.what is not None and reading.what.kind in GAUGED
