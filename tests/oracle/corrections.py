"""Corrections of finished readings (3.5, decision 0074): what works at once, and what waits for whom."""

from collections.abc import Mapping
from fractions import Fraction

from kiosk.lists.words import Level
from kiosk.pages.readings import Correction
from kiosk.pages.words import Source, Verdict
from tests.oracle.authority import has_level, seconds_of
from tests.oracle.figures import comparable, figure_of, verdict_of
from tests.oracle.night import ActAt, Night, Reading

_GOOD = (Verdict.IN, Verdict.ACCEPT)
_INSPECTION = frozenset({Level.INSPECTOR, Level.DISPOSITION, Level.QUALITY_MANAGER})
_SLIPS = ("X26", "X27", "X28", "X29", "X30")


def at_once(night: Night) -> None:
    """Mark X32, and let what turns a reading bad work with its one signature."""
    for act, correction in night.of(Correction):
        for reading in night.readings:
            if reading.ref != correction.of:
                continue
            reading.mark("X32", "Flagged")
            is_for_worse = _verdict(reading, correction.new).is_bad and not reading.verdict.is_bad
            if correction.field == "value" and act.signer is not None and is_for_worse:
                judge_anew(reading, correction.new)


def note_corrections(night: Night, corrected: Mapping[str, str]) -> None:
    """Judge the readings whose corrections are in effect by their new texts."""
    for reading in night.readings:
        if reading.ref in corrected:
            judge_anew(reading, corrected[reading.ref])


def judge_anew(reading: Reading, text: str) -> None:
    """Judge a reading as if another text had been keyed; a slip of the old one no longer stands unless asked about."""
    assert reading.what is not None
    reading.verdict, reading.value = _verdict(reading, text), _value(reading, text)
    reading.figure = figure_of(text, reading.how)
    for number in _SLIPS:
        if number not in reading.asked:
            reading.marks.pop(number, None)
        elif reading.marks.get(number) == "Blocked":
            reading.marks[number] = "tag"


def in_effect(night: Night) -> dict[str, str]:
    """Return the readings that a correction turns good, with the new text: all that it needs is in."""
    last: dict[str, tuple[ActAt, Correction]] = {}
    for act, correction in night.of(Correction):
        if correction.field == "value" and act.signer is not None:
            last[correction.of] = (act, correction)
    found: dict[str, str] = {}
    for ref, (act, correction) in last.items():
        mine = [reading for reading in night.readings if reading.ref == ref]
        if len(mine) != 1 or not night.stands_today(mine[0]):
            continue
        reading = mine[0]
        if reading.verdict in _GOOD or _verdict(reading, correction.new) not in _GOOD:
            continue
        by_paper = reading.verdict is Verdict.NOT_JUDGED and reading.row["source"] == Source.PAPER
        if _is_signed(night, act, reading) and (by_paper or _is_measured_again(night, reading)):
            found[ref] = correction.new
    return found


def _value(reading: Reading, text: str) -> Fraction | None:
    what = reading.what
    return None if what is None else comparable(figure_of(text, reading.how).value, reading.row["unit"], what)


def _verdict(reading: Reading, text: str) -> Verdict:
    if reading.what is None:
        return Verdict.NOT_JUDGED
    return verdict_of(text, _value(reading, text), reading.what)


def _is_signed(night: Night, act: ActAt, reading: Reading) -> bool:
    """True with two signatures of persons with authority, neither of them who took the reading."""
    signers = set()
    for each in (act, *seconds_of(night, act)):
        may = has_level(night, each.signer, _INSPECTION, each.ms, reading.row["operation"])
        if may and each.ms >= act.ms and each.signer != reading.taker:
            signers.add(each.signer)
    return len(signers) >= 2


def _is_measured_again(night: Night, reading: Reading) -> bool:
    """True when the piece was measured again and is good, or twice the sample was; and none of it was bad."""
    same = ("lot", "part", "operation", "characteristic", "position")
    again = [
        each
        for each in night.readings
        if each.row["re_measure_of"] == reading.ref
        and not each.is_replaced
        and each.ms >= reading.ms
        and all(each.row[name] == reading.row[name] for name in same)
    ]
    if any(each.verdict.is_bad for each in again):
        return False  # blocked and bad accuses all the same (3.3.5)
    good = [each for each in again if each.standing != "Blocked" and each.verdict in _GOOD]
    if any(each.row["piece"] == reading.row["piece"] for each in good):
        return True
    planned = 0 if reading.what is None else reading.what.sample_n
    return planned > 0 and len({each.row["piece"] for each in good}) >= 2 * planned
