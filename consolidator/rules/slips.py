"""Rules about slips of hand and eye, and about keying a value anew: X26 to X32.

A slip nobody was asked about takes the verdict away and blocks; one that was asked about is kept for the record.
No sentence names the value a reading should have been.
"""

from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags
from consolidator.frame.day import rows_of_page
from consolidator.frame.verdicts import (
    ACCEPT,
    IN,
    NOT_JUDGED,
    OUT,
    REJECT,
    SLIP_BIT,
    UNJUDGED_BITS,
    verdict_of_text,
)
from consolidator.rules.fit import misfit_wires
from consolidator.rules.found import Found, Rule, Tell, found, found_causes, rows_of, say_piece
from consolidator.rules.kinds import Effect
from kiosk.pages.readings import Correction

_WHY: Final = {
    "X26": "a decimal place may have slipped",
    "X27": "it may be in another unit",
    "X28": "two digits may be swapped",
    "X29": "plus and minus may be taken for each other",
    "X30": "it fits no usual slip",
}


def decimal_slip(day: Day) -> list[Found]:
    """X26: outside the believable window, and inside it with the point one to five places further."""
    return _slip(day, "X26")


def unit_slip(day: Day) -> list[Found]:
    """X27: outside the window, and inside it divided or multiplied by 25.4; or in a unit that cannot be compared."""
    return [*_slip(day, "X27"), *_unit_apart(day)]


def swapped_digits(day: Day) -> list[Found]:
    """X28: outside the window, and in tolerance with two neighbouring digits swapped."""
    return _slip(day, "X28")


def plus_minus(day: Day) -> list[Found]:
    """X29: a deviation that is out while its mirror is in; asked and keyed anew it stays flagged."""
    bit = SLIP_BIT["X29"]
    asked, fits = day.verdicts.asked.bits & bit != 0, day.verdicts.slips & bit != 0
    is_flagged = asked & ~day.verdicts.asked.is_believed
    is_tag = ~is_flagged & (asked | (fits & (day.verdicts.asked.bits == 0)))
    tell = _tell(day, "X29")
    return [
        *found("X29", rows_of(day, is_flagged), day.pages.lot, tell),
        *found("X29", rows_of(day, is_tag), day.pages.lot, tell, is_tag=True, urgency_word="D"),
    ]


def not_believable(day: Day) -> list[Found]:
    """X30: outside the window and no pattern fits; or what was keyed is nothing that can be judged."""
    unreadable = _cannot_be_judged(day)

    def tell(row: int) -> str:
        return f"'{day.pages.keyed.at(row)}' was keyed for {say_piece(day, row)}; it cannot be judged."

    return [*_slip(day, "X30"), *found("X30", rows_of(day, unreadable), day.pages.lot, tell, holds=unreadable)]


def fail_to_pass(day: Day) -> list[Found]:
    """X31: keyed anew inside the sample without being asked, the first out and the second in."""
    before, verdict = day.verdicts.was_bad_unasked.copy(), day.verdicts.keyed_verdict
    was_bad = np.isin(verdict, [OUT, REJECT])
    # In page order, so that what was keyed first is known before what took its place.
    for row in np.flatnonzero(day.replaces >= 0).tolist():
        before[row] |= before[day.replaces[row]] | was_bad[day.replaces[row]]
    before &= np.isin(verdict, [IN, ACCEPT])

    def tell(row: int) -> str:
        now = day.pages.keyed.at(row)
        return f"A value that was out was keyed anew unasked as {now}, which is in ({say_piece(day, row)})."

    return found("X31", rows_of(day, before), day.pages.lot, tell)


def corrected(day: Day) -> list[Found]:
    """X32: a correction page stands against the reading; a bad verdict stays until the correction is in effect."""
    by_ref: dict[str, Correction] = {}
    for _, correction in day.world.acts.of(Correction):
        by_ref[correction.of] = correction
    rows = sorted(row for ref in by_ref for row in rows_of_page(day.pages, ref) if day.is_in_day[row])
    changes = np.zeros(len(day.pages), bool)
    for row in rows:
        correction = by_ref[day.pages.ref(row)]
        changes[row] = correction.field == "value" and _changes_verdict(day, row, correction.new)

    def tell(row: int) -> str:
        correction = by_ref[day.pages.ref(row)]
        words = f"Its {correction.field} {correction.old} was corrected to {correction.new} ({correction.reason})"
        if not changes[row] or day.verdicts.verdict[row] in (IN, ACCEPT) or not _is_good(day, row, correction.new):
            return f"{words}."
        return f"{words}; the verdict stands until signatures and re-measure are in."

    plain, weighty = [row for row in rows if not changes[row]], [row for row in rows if changes[row]]
    lots = day.pages.lot
    return [
        *found_causes("X32", plain, [lots.at(row) for row in plain], tell),
        *found_causes("X32", weighty, [lots.at(row) for row in weighty], tell, urgency_word="B"),
    ]


def _is_good(day: Day, row: int, text: str) -> bool:
    return verdict_of_text(day.pages, day.plans, day.values, row, text) in (IN, ACCEPT)


def _changes_verdict(day: Day, row: int, new: str) -> bool:
    now, then = (
        verdict_of_text(day.pages, day.plans, day.values, row, text) for text in (new, day.pages.keyed.at(row))
    )
    return now != then


def _slip(day: Day, number: str) -> list[Found]:
    bit = SLIP_BIT[number]
    asked = day.verdicts.asked.bits & bit != 0
    fits = (day.verdicts.slips & bit != 0) & (day.verdicts.asked.bits == 0)
    tell = _tell(day, number)
    return [
        *found(number, rows_of(day, fits), day.pages.lot, tell, holds=fits),
        *found(number, rows_of(day, asked), day.pages.lot, tell, is_tag=True, urgency_word="D"),
    ]


def _tell(day: Day, number: str) -> Tell:
    def tell(row: int) -> str:
        asked = "" if not day.verdicts.asked.bits[row] else " The kiosk asked."
        keyed = day.pages.keyed.at(row)
        return f"{keyed} {day.pages.unit.at(row)} was keyed for {say_piece(day, row)}: {_WHY[number]}.{asked}"

    return tell


def _unit_apart(day: Day) -> list[Found]:
    def tell(row: int) -> str:
        unit = day.plans.characteristics[int(day.plans.characteristic_row[row])].unit
        return f"{day.pages.keyed.at(row)} was keyed in {day.pages.unit.at(row)}; {say_piece(day, row)} is in {unit}."

    apart = day.values.is_unit_apart & (day.verdicts.verdict == NOT_JUDGED)
    return found("X27", rows_of(day, apart), day.pages.lot, tell, holds=apart, effect=Effect.BLOCKED)


def _cannot_be_judged(day: Day) -> Flags:
    """Tell which readings are without a verdict although characteristic, units and slips do not explain it."""
    v = day.verdicts
    explained = (v.slips & UNJUDGED_BITS != 0) & (v.asked.bits == 0)
    is_told = explained | (day.plans.characteristic_row < 0) | day.values.is_unit_apart | misfit_wires(day)[0]
    return np.asarray((v.verdict == NOT_JUDGED) & ~is_told)


RULES: Final = (
    Rule("X26", decimal_slip),
    Rule("X27", unit_slip),
    Rule("X28", swapped_digits),
    Rule("X29", plus_minus),
    Rule("X30", not_believable),
    Rule("X31", fail_to_pass),
    Rule("X32", corrected),
)
