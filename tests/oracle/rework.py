"""What is found of ways back and of test pieces: X56 and X61 to X63 as they are named (decisions 0072, 0135, 0136)."""

from kiosk.lists import Characteristic
from kiosk.lists.words import Feature
from kiosk.pages.desk import Disposition, TestRecord
from kiosk.pages.words import Choice, SampleKind
from tests.oracle.night import ActAt, Night, Reading
from tests.oracle.samples import Named
from tests.oracle.setups import SetUps
from tests.oracle.times import moment_of

_WAYS_BACK = (Choice.REWORK, Choice.RE_TAP)


def failed_proofs(night: Night, set_ups: SetUps) -> Named:
    """X56: a fatigue record of the day that failed, under its set-up, or under its lot where it names none."""
    return {
        ("X56", record.set_up or record.lot)
        for act, record in night.of(TestRecord)
        if record.what == "fatigue" and night.is_today(act.ms) and set_ups.has_failed(record)
    }


def foreign_pieces(night: Night, set_ups: SetUps) -> Named:
    """X61: a record of the day names a piece that is not of its lot, or of its set-up."""
    return {
        ("X61", record.lot)
        for act, record in night.of(TestRecord)
        if night.is_today(act.ms) and not all(set_ups.is_own(record, piece) for piece in record.pieces)
    }


def mark_foreign_tests(night: Night, set_ups: SetUps) -> None:
    """Mark X61 on test readings that name a set-up which never made their lot."""
    for reading in night.readings:
        lot, set_up = reading.row["lot"], reading.row["set_up"]
        is_test = reading.row["sample_kind"] == SampleKind.TEST and lot is not None and set_up is not None
        if is_test and lot not in set_ups.made_by(set_up):
            reading.mark("X61", "Blocked")


def forbidden_ways_back(night: Night) -> Named:
    """X62: a disposition of the day that sends a rolled external thread back, whoever signed it."""
    return {
        ("X62", done.lot)
        for act, done in night.of(Disposition)
        if night.is_today(act.ms)
        and done.choice in _WAYS_BACK
        and any(what.feature is Feature.EXTERNAL_ROLLED_THREAD for what in _about(night, act, done))
    }


def _about(night: Night, act: ActAt, done: Disposition) -> list[Characteristic]:
    named = {done.characteristic} - {None}
    if not named:
        named = {reading.row["characteristic"] for reading in night.readings if reading.ref in done.readings}
    return [c for c in night.lists.characteristics if c.part == done.part and c.number in named]


class ReTaps:
    """The dispositions to tap again, each with how often its pieces had been tapped again by then."""

    def __init__(self, night: Night) -> None:
        self._night = night
        done = [(act, each) for act, each in night.of(Disposition) if each.choice is Choice.RE_TAP]
        times: list[int] = []
        for place, (_, each) in enumerate(done):
            # Two boxes tapped again once each are not one that was tapped twice: the most of any that it may be.
            before = (times[at] for at in range(place) if _is_same(each, done[at][1]))
            times.append(1 + max(before, default=0))
        self.past = [
            (act, each) for (act, each), often in zip(done, times, strict=True) if often > _allowed(night, act)
        ]

    def named(self) -> Named:
        """X63 of the dispositions of the day."""
        return {("X63", done.lot) for act, done in self.past if self._night.is_today(act.ms)}

    def mark(self) -> None:
        """Mark X63 on what was taken after a re-tap of a lot past the limit, or is of a piece tapped too often."""
        by_ref = {reading.ref: reading for reading in self._night.readings}
        for reading in self._night.readings:
            if reading.row["sample_kind"] != SampleKind.RE_TAP:
                continue
            is_late = any(done.lot == reading.row["lot"] and act.ms <= reading.ms for act, done in self.past)
            if is_late or _times(by_ref, reading) > reading.numbers.re_taps:
                reading.mark("X63", "Blocked")


def _is_same(done: Disposition, other: Disposition) -> bool:
    """True when another disposition was of the same pieces: told by readings, by tag, or else by the lot."""
    if done.lot != other.lot:
        return False
    if done.readings:
        return bool(set(done.readings) & set(other.readings))
    return done.tag in (None, other.tag)


def _times(by_ref: dict[str, Reading], reading: Reading) -> int:
    """Return how often a piece was tapped again, by the chain of readings that measure it again."""
    times, seen = 0, set[str]()
    each: Reading | None = reading
    while each is not None and each.ref not in seen and each.row["sample_kind"] == SampleKind.RE_TAP:
        seen.add(each.ref)
        times += 1
        each = by_ref.get(each.row["re_measure_of"] or "")
    return times


def _allowed(night: Night, act: ActAt) -> int:
    return night.lists.numbers(moment_of(act.ms)).re_taps
