"""What is found of every reading in question, and what a day tells of it (X07, X08, X80; 3.6 and decision 0088)."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from kiosk.lists.words import CharacteristicKind
from kiosk.pages.desk import LotShip
from kiosk.pages.readings import Correction
from kiosk.pages.words import KeyedAs, Verdict
from tests.oracle.doubts import FOUND_OUT, LOST, SET, UNTAKEN, Doubt, Doubts
from tests.oracle.figures import alike, comparable, figure_of, in_unit, limits_of, verdict_of
from tests.oracle.gauges import EVER
from tests.oracle.night import Night, Reading
from tests.oracle.times import Made, make_times, stamp_of_act, stamp_of_reading

FAIL, CANNOT, INSIDE, PASS = "Would now fail", "Cannot tell", "Still inside", "Would now pass"
_WORST_FIRST = (FAIL, CANNOT, INSIDE, PASS)
_WITHOUT_FIGURE = (CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.TURNS, CharacteristicKind.VISUAL)
_OWN = (FOUND_OUT, UNTAKEN, LOST)

Finding = tuple[str, int, str, str, str]
"""Gauge or master found out, when, page, fingerprint, and what is found of the reading."""
Told = tuple[str, str, str, str, str]
"""Kind, cause, urgency, the lots on hold by it, and the readings it names."""


@dataclass(frozen=True)
class LookBack:
    """All that comes of one gauge or master found out: the finding of each reading, and how the day tells of it."""

    number: str
    at_ms: int
    is_master: bool
    trouble: Doubt
    found: tuple[tuple[Reading, str], ...]

    @property
    def findings(self) -> set[Finding]:
        """Return the finding of every reading in question."""
        return {(self.number, self.at_ms, r.ref, r.row["fingerprint"], finding) for r, finding in self.found}


@dataclass(frozen=True)
class _Raised:
    """One exception of a look-back, with all its readings, whatever their day."""

    number: str
    cause: str
    at_ms: int
    urgency: str
    held: frozenset[str]
    readings: list[Reading]


def look_backs(night: Night) -> list[LookBack]:
    """Return a look-back for everything that was found out, came without as-found, or is lost."""
    doubts = Doubts(night).every()
    masters = {row.number for row in night.lists.masters}
    found = []
    for number, at_ms in sorted({(doubt.root, doubt.root_ms) for doubt in doubts}):
        mine = [doubt for doubt in doubts if (doubt.root, doubt.root_ms) == (number, at_ms)]
        own = [doubt for doubt in mine if doubt.why in _OWN and doubt.stands]
        if own:
            standing = [doubt for doubt in mine if doubt.stands]
            is_master = number in masters or any(doubt.via for doubt in mine)
            found.append(LookBack(number, at_ms, is_master, own[0], tuple(_found(night, standing))))
    return found


def mark_found_out(night: Night, backs: list[LookBack]) -> None:
    """Mark X07 and X08: the evidence stands, and somebody must look."""
    for back in backs:
        for reading, _ in back.found:
            reading.mark("X08" if back.is_master else "X07", "Flagged")


def told_of(night: Night, backs: list[LookBack]) -> set[Told]:
    """Return what a day tells: all of what came to light in it, and of the rest what is found of its own readings."""
    told: dict[tuple[str, str], list[_Raised]] = defaultdict(list)
    for each in (each for back in backs for each in _raised(night, back)):
        mine = [reading for reading in each.readings if night.stands_today(reading)]
        if night.is_today(each.at_ms):
            told[each.number, each.cause].append(each)
        elif mine and each.number != "X80":
            held = each.held & {_lot(reading) for reading in mine}
            told[each.number, each.cause].append(replace(each, held=held, readings=mine))
    return {(*key, *_joined(every)) for key, every in told.items()}


def _joined(every: list[_Raised]) -> tuple[str, str, str]:
    held = {lot for each in every for lot in each.held}
    refs = {reading.ref for each in every for reading in each.readings}
    return min(each.urgency for each in every), ";".join(sorted(held)), ";".join(sorted(refs))


def _raised(night: Night, back: LookBack) -> Iterator[_Raised]:
    """Give the exceptions of a look-back: of a master one, of a gauge one for each lot, one where none was found."""
    by_lot: dict[str, list[tuple[Reading, str]]] = defaultdict(list)
    for reading, finding in back.found:
        by_lot[_lot(reading)].append((reading, finding))
    gone = {ship.lot for act, ship in night.of(LotShip) if act.ms <= night.at_ms}
    held = {lot for lot, each in by_lot.items() if any(finding in (FAIL, CANNOT) for _, finding in each)}

    def of(number: str, cause: str, lots: set[str]) -> _Raised:
        readings = [reading for reading, _ in back.found if _lot(reading) in lots]
        return _Raised(number, cause, back.at_ms, "A" if gone & held & lots else "B", frozenset(held & lots), readings)

    is_untaken, lots = back.trouble.why == UNTAKEN, set(by_lot)
    if back.is_master:
        yield of("X08", back.number, lots)
    elif lots:
        yield from (of("X07", f"{back.number}, lot {lot}", {lot}) for lot in lots)
    elif not is_untaken:
        yield replace(of("X07", back.number, set()), urgency="D")
    if is_untaken and (lots or back.trouble.start != EVER):
        yield of("X80", back.number, lots)


def _lot(reading: Reading) -> str:
    return reading.row["lot"] or ""


def _found(night: Night, doubts: list[Doubt]) -> Iterator[tuple[Reading, str]]:
    """Give every reading in question with its finding, the worst of all doubts it lies in."""
    spans = _spans(night, {doubt.number for doubt in doubts})
    for reading in night.readings:
        made = spans.get((reading.ref, reading.row["fingerprint"]))
        if made is None or reading.is_replaced:
            continue
        findings = {
            finding
            for doubt in doubts
            if made.high >= doubt.start and made.low < doubt.end
            for finding in _findings(night, reading, doubt, doubts)
        }
        if findings:
            yield reading, min(findings, key=_WORST_FIRST.index)


def _spans(night: Night, numbers: set[str]) -> dict[tuple[str, str], Made]:
    """Return when the readings that a look-back sees were made, as their own pages and all acts tell it (0085)."""
    numbers |= {row.number for row in night.lists.gauges if {row.master, row.wires} & numbers}
    corrected = {told.of for _, told in night.of(Correction) if told.field == "gauge" and told.new in numbers}
    rows = [
        row
        for row in night.held.readings.to_pylist()
        if {row["gauge"], row["master"]} & numbers
        or row["replaces"] is not None
        or f"{row['series']}/{row['number']}" in corrected
    ]
    stamps = [*(stamp_of_reading(row) for row in rows), *(stamp_of_act(act) for act in night.held.acts)]
    contacts = [c for c in night.held.contacts.to_pylist() if c["consolidator_ms"] <= night.at_ms]
    made = make_times(stamps, contacts, night.lists)
    return {(f"{r['series']}/{r['number']}", r["fingerprint"]): m for r, m in zip(rows, made, strict=False)}


def _findings(night: Night, reading: Reading, doubt: Doubt, doubts: list[Doubt]) -> Iterator[str]:
    """Give what one doubt makes of a reading; nothing when it does not touch it."""
    corrections = [told for _, told in night.of(Correction) if told.of == reading.ref]
    is_with_gauge = reading.row["gauge"] == doubt.number or any(
        told.field == "gauge" and told.new == doubt.number for told in corrections
    )
    is_made = not is_with_gauge and _is_made_from(reading, doubt.number)
    if not is_with_gauge and not is_made:
        if reading.row["master"] == doubt.number:
            yield CANNOT
        return
    if doubt.why == SET and _is_made_from(reading, doubt.via):
        # A comparator set on the master reads too much by what the master is too large, until it is set again.
        by = [each for each in doubts if each.number == doubt.via and each.has(doubt.start)]
        is_made = True
    else:
        by = [doubt]
    for each in by:
        yield _finding(reading, each, reading.row["keyed"], reading.keyed_verdict, is_made=is_made)
        for told in corrections:
            if told.field == "value" and reading.what is not None:
                value = comparable(figure_of(told.new, reading.how).value, reading.row["unit"], reading.what)
                verdict = verdict_of(told.new, value, reading.what)
                yield _finding(reading, each, told.new, verdict, is_made=is_made)


def _is_made_from(reading: Reading, master: str) -> bool:
    """True when a value was made from a master's size: by a deviation, or over wires."""
    is_by_size = reading.how.keyed_as in (KeyedAs.DEVIATION, KeyedAs.DIVISIONS, KeyedAs.OVER_WIRES)
    return is_by_size and reading.how.master is not None and reading.how.master.number == master


def _finding(reading: Reading, doubt: Doubt, text: str, verdict: Verdict, *, is_made: bool) -> str:
    """Return what is found of a reading of a text: true = reading - e, held against the limits in force then."""
    what = reading.what
    if doubt.why != FOUND_OUT or what is None or what.kind in _WITHOUT_FIGURE:
        return CANNOT
    if reading.gauge is not None and reading.gauge.kind.is_attribute:
        return CANNOT
    figure = figure_of(text, reading.how)
    value, limits = comparable(figure.value, reading.row["unit"], what), limits_of(what)
    if value is None or limits is None or figure.shown is None or verdict is Verdict.NOT_JUDGED:
        return CANNOT
    if not alike(doubt.unit, what.unit):
        return CANNOT
    errors = _errors_of_master(reading, doubt) if is_made else _errors_beside(reading, doubt, figure.shown)
    if not errors:
        return CANNOT
    if not all(limits.has(value - in_unit(error, doubt.unit, what.unit)) for error in errors):
        return FAIL
    return PASS if verdict.is_bad else INSIDE


def _errors_of_master(reading: Reading, doubt: Doubt) -> list[Fraction]:
    """Return what a master's errors do to a value: three wires too large by e make it too small by 3 e."""
    times = -3 if reading.how.keyed_as == KeyedAs.OVER_WIRES else 1
    return [times * point.error for point in doubt.points if point.error is not None]


def _errors_beside(reading: Reading, doubt: Doubt, shown: Fraction) -> list[Fraction]:
    """Return the errors at the calibrated point it lies on, else at both neighbours; none where either is not known."""
    if not doubt.points or not alike(reading.row["unit"], doubt.unit):
        return []
    shown = in_unit(shown, reading.row["unit"], doubt.unit)
    low = max((point.at for point in doubt.points if point.at <= shown), default=None)
    high = min((point.at for point in doubt.points if point.at >= shown), default=None)
    if low is None or high is None:
        return []
    errors = [point.error for point in doubt.points if point.at in (low, high)]
    return [error for error in errors if error is not None] if None not in errors else []
