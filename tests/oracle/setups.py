"""The lives of set-ups: begun, approved, proven, changed; and heat (X53-X55, X58, X59; decision 0038)."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from kiosk.lists import Characteristic
from kiosk.lists.words import Level
from kiosk.pages import Act
from kiosk.pages.desk import TestPiece, TestRecord
from kiosk.pages.station import FirstPieceApproval, JobOpen, OutOfHeat, SetUpChange, SetUpStart
from kiosk.pages.words import Source
from tests.oracle.authority import has_level
from tests.oracle.night import ON_MACHINE, RUN, ActAt, Night, Reading
from tests.oracle.times import text_ms


@dataclass(frozen=True)
class _News:
    ms: int
    """From when it stands: a touch from the earliest it can have been, what is good from the latest."""
    order: tuple[str, int]
    set_up: str
    act: ActAt
    what: Act

    @property
    def is_touch(self) -> bool:
        return isinstance(self.what, SetUpStart | SetUpChange)


class SetUps:
    """All set-ups of a night."""

    def __init__(self, night: Night) -> None:
        self._night = night
        self._starts = list(night.of(SetUpStart))
        news = []
        for act in night.acts:
            what = act.page.act
            is_touch = isinstance(what, SetUpStart | SetUpChange)
            is_fatigue = isinstance(what, TestRecord) and what.what == "fatigue"
            if not is_touch and not is_fatigue and not isinstance(what, FirstPieceApproval):
                continue
            name = getattr(what, "set_up", None)
            if name is not None:
                ms = act.made.low if is_touch else act.made.high
                news.append(_News(ms, (act.page.series, act.page.number), name, act, what))
        self._news = sorted(news, key=lambda each: (each.ms, *each.order))

    @property
    def moments(self) -> set[int]:
        """Every moment at which an approval or the set-up of a station may change."""
        return {each.ms for each in self._news} | {act.ms for act, _ in self._starts}

    def of_reading(self, reading: Reading, ms: int | None = None) -> str | None:
        """Return the set-up a reading names, else the last begun at its station by its time."""
        if reading.row["set_up"] is not None:
            return str(reading.row["set_up"])
        at = reading.ms if ms is None else ms
        begun = [start.set_up for act, start in self._starts if act.page.station == reading.row["station"]]
        times = [act.ms for act, _ in self._starts if act.page.station == reading.row["station"]]
        past = [name for name, begun_ms in zip(begun, times, strict=True) if begun_ms <= at]
        return past[-1] if past else None

    def is_approved(self, set_up: str | None, ms: int) -> bool:
        """True from a good approval of the set-up as it was last touched."""
        approved = False
        for news in self._news:
            if news.set_up != set_up or news.ms > ms:
                continue
            if news.is_touch:
                approved = False
            elif isinstance(news.what, FirstPieceApproval):
                approved = news.what.result == "Approved" and not self.why_void(news.act, news.what)
        return approved

    def is_proven(self, set_up: str | None, ms: int) -> bool:
        """True from a passed fatigue proof of the set-up as it was last touched."""
        proven = False
        for news in self._news:
            if news.set_up != set_up or news.ms > ms:
                continue
            if news.is_touch:
                proven = False
            elif isinstance(news.what, TestRecord):
                proven = self.has_passed(news.what) or (proven and not self.has_failed(news.what))
        return proven

    def is_changed_since_proof(self, set_up: str | None, ms: int) -> bool:
        """True when a passed proof ended because the set-up was touched, and no other passed since."""
        proven = changed = False
        for news in self._news:
            if news.set_up != set_up or news.ms > ms:
                continue
            if news.is_touch:
                changed = changed or proven
                proven = False
            elif isinstance(news.what, TestRecord) and self.has_passed(news.what):
                proven, changed = True, False
            elif isinstance(news.what, TestRecord) and self.has_failed(news.what):
                proven = False
        return changed

    def is_proof_failed(self, set_up: str | None, ms: int) -> bool:
        """True for pieces since the start or last passed proof before a failed one, until touched or proven anew."""
        mine = [news for news in self._news if news.set_up == set_up]
        for place, news in enumerate(mine):
            if not isinstance(news.what, TestRecord) or not self.has_failed(news.what):
                continue
            passed = [each.act.made.low for each in mine[:place] if self._is_pass(each)]
            ended = [each.act.made.high for each in mine[place + 1 :] if each.is_touch or self._is_pass(each)]
            if (passed or [ms])[-1] <= ms < (ended or [ms + 1])[0]:
                return True
        return False

    def _is_pass(self, news: _News) -> bool:
        return isinstance(news.what, TestRecord) and self.has_passed(news.what)

    def why_void(self, act: ActAt, approval: FirstPieceApproval) -> str:
        """Say why an approval is void (X54): by the setter, by who runs the set-up, or by nobody who may approve."""
        if approval.result != "Approved":
            return ""
        approver = act.signer
        for start_act, start in self._starts:
            if start.set_up == approval.set_up and approver in (start.set_by, start_act.page.person):
                return "setter"
        for change_act, change in self._night.of(SetUpChange):
            is_before = change_act.made.low <= act.made.high
            if change.set_up == approval.set_up and change_act.page.person == approver and is_before:
                return "setter"
        for reading in self._night.readings:
            ran = reading.row["sample_kind"] in RUN and reading.taker == approver
            if ran and approver is not None and self.of_reading(reading) == approval.set_up:
                return "operator of the run"
        may = has_level(self._night, approver, {Level.FIRST_PIECE}, act.ms, approval.operation)
        return "" if may else "not qualified"

    def has_passed(self, record: TestRecord) -> bool:
        """True when a fatigue record passes by the plan (3.2.7): enough pieces of the set-up, each, and on average."""
        plan = self._plan(record)
        cycles = _cycles(piece for piece in record.pieces if self.is_own(record, piece))
        if plan is None or self.has_failed(record) or len(cycles) < max(plan.sample_n, 1):
            return False
        return (plan.least_each or plan.lower) is not None and not _is_too_few(plan, cycles)

    def has_failed(self, record: TestRecord) -> bool:
        """True when a fatigue record is a failure: by its own word, or by the plan; too few pieces have no average."""
        if record.verdict.is_bad or any(piece.verdict.is_bad for piece in record.pieces):
            return True
        plan, cycles = self._plan(record), _cycles(record.pieces)
        if plan is None or not cycles:
            return False
        least = plan.least_each or plan.lower
        is_below = least is not None and min(cycles) < Fraction(least)
        return is_below or (len(cycles) >= max(plan.sample_n, 1) and _is_too_few(plan, cycles))

    def is_own(self, record: TestRecord, piece: TestPiece) -> bool:
        """True when a test piece is of the lot and set-up of its record, and the set-up made that lot (X61)."""
        if record.set_up is None:
            return piece.lot == record.lot
        return (piece.lot, piece.set_up) == (record.lot, record.set_up) and record.lot in self.made_by(record.set_up)

    def made_by(self, set_up: str) -> set[str]:
        """Return the lots a set-up was begun for, was opened for, or names in readings on the machine."""
        lots = {start.lot for _, start in self._starts if start.set_up == set_up}
        lots |= {job.lot for _, job in self._night.of(JobOpen) if job.set_up == set_up}
        rows = (reading.row for reading in self._night.readings)
        return lots | {row["lot"] for row in rows if row["set_up"] == set_up and row["sample_kind"] in ON_MACHINE}

    def _plan(self, record: TestRecord) -> Characteristic | None:
        rows = [
            c for c in self._night.lists.characteristics if (c.part, c.number) == (record.part, record.characteristic)
        ]
        return max(rows, key=lambda c: (c.in_force_from or "", c.revision), default=None)

    def is_heated(self, reading: Reading) -> bool:
        """True for heated operations, and for pieces of a set-up that was begun hot."""
        if reading.what is not None and reading.what.is_heated:
            return True
        set_up = self.of_reading(reading)
        return any(start.is_hot and start.set_up == set_up for _, start in self._starts)

    def heat_of(self, reading: Reading) -> str | None:
        """Return hot, cool, or none where nothing shows it (N10); the thermometer outranks the clock, both ways."""
        row, numbers = reading.row, reading.numbers
        part = _degf(row["part_temperature"], row["temperature_unit"])
        gauge = _degf(row["gauge_temperature"], row["temperature_unit"])
        if part is not None and part > Fraction(numbers.cool_part_degf):
            return "hot"
        if part is not None and gauge is not None:
            return "hot" if abs(part - gauge) > Fraction(numbers.cool_difference_degf) else "cool"
        out = self._out_of_heat(reading)
        if out is None:
            return None
        return "hot" if reading.ms - out < numbers.cool_down_min * 60_000 else "cool"

    def _out_of_heat(self, reading: Reading) -> int | None:
        """Return when the piece came out of heat: told with the reading, of the piece, or of the lot.

        A time told by a clock that is off moves with it where that makes the cooling shorter, never longer.
        """
        row = reading.row
        if row["out_of_heat_at_ms"] is not None:
            moved = 0 if row["source"] == Source.PAPER else max(reading.ms - row["kiosk_time_ms"], 0)
            own: int = row["out_of_heat_at_ms"] + moved
            return own
        outs = []
        for act, out in self._night.of(OutOfHeat):
            ms = text_ms(out.out_at) + max(act.ms - text_ms(act.page.kiosk_time), 0)
            if out.lot == row["lot"] and out.piece in (None, row["piece"]) and ms <= reading.ms:
                outs.append(ms)
        return max(outs, default=None)


def _cycles(pieces: Iterable[TestPiece]) -> list[Fraction]:
    return [Fraction(piece.result) for piece in pieces if piece.result is not None]


def _is_too_few(plan: Characteristic, cycles: list[Fraction]) -> bool:
    """True when a piece, or the average, is below what the plan wants; a piece counts up to the stop at most."""
    if plan.stopped_at is not None:
        cycles = [min(each, Fraction(plan.stopped_at)) for each in cycles]
    least = plan.least_each or plan.lower
    if least is not None and min(cycles) < Fraction(least):
        return True
    return plan.least_average is not None and sum(cycles) / len(cycles) < Fraction(plan.least_average)


def _degf(text: str | None, unit: str | None) -> Fraction | None:
    if text is None:
        return None
    return Fraction(text) * 9 / 5 + 32 if unit == "degC" else Fraction(text)
