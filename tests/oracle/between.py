"""What is found of readings side by side, and of lots and kiosks over time (X14, X33, X35, X37, X46-X51, X67, X74)."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from fractions import Fraction
from itertools import pairwise

from kiosk.lists.words import SHORTEST_CREDIBLE_S, Level
from kiosk.pages.desk import Disposition, ExceptionClose, Hold, HoldLift, LotClose, LotReopen
from kiosk.pages.station import Changeover
from kiosk.pages.words import Source
from tests.oracle.authority import QUALITY, has_level
from tests.oracle.gauges import GaugeStory
from tests.oracle.night import RUN, Night, Reading
from tests.oracle.people import qualification_differs
from tests.oracle.setups import SetUps
from tests.oracle.single import is_production, share_of
from tests.oracle.times import moment_of, text_ms

_SHIFT_MS = 8 * 3_600_000
_MAY_CLOSE = QUALITY | {Level.LEAD, Level.CALIBRATOR, Level.INSPECTOR}


def standing_readings(night: Night) -> list[Reading]:
    """Return the readings whose place no other page took, in order of time."""
    return sorted((r for r in night.readings if not r.is_replaced), key=lambda r: r.order)


def find_two_places(night: Night) -> None:
    """Mark X14 and X67: one gauge, or one badge, at two stations within N9, ends included.

    Blocked is what a closing names as the wrong one.
    """
    readings = standing_readings(night)
    for one in readings:
        for other in readings:
            apart = abs(one.ms - other.ms)
            if one.row["station"] == other.row["station"]:
                continue
            is_same_gauge = one.row["gauge"] is not None and one.row["gauge"] == other.row["gauge"]
            if is_same_gauge and apart <= one.numbers.gauge_two_places_s * 1000:
                one.mark("X14", "Flagged")
            on_paper = Source.PAPER in (one.row["source"], other.row["source"])
            is_same_badge = one.row["person"] is not None and one.row["person"] == other.row["person"]
            if is_same_badge and not on_paper and apart <= one.numbers.badge_two_places_s * 1000:
                one.mark("X67", "Flagged")
    for act, close in night.of(ExceptionClose):
        number = close.exception.partition(":")[0]
        if number in ("X14", "X67") and has_level(night, act.signer, _MAY_CLOSE, act.ms):
            for one in readings:
                if one.ref in close.evidence and number in one.marks:
                    one.mark(number, "Blocked")


def _grouped(readings: Iterable[Reading], key: Callable[[Reading], object]) -> list[list[Reading]]:
    groups: dict[object, list[Reading]] = defaultdict(list)
    for reading in readings:
        groups[key(reading)].append(reading)
    return list(groups.values())


def _value(reading: Reading) -> Fraction | str:
    return reading.row["keyed"] if reading.value is None else reading.value  # type: ignore[no-any-return]


def find_double_taps(night: Night) -> None:
    """Mark X33: the same piece and value at one kiosk within N8 of the one just before; paper has no rhythm."""
    names = ("series", "lot", "operation", "characteristic", "piece", "position")
    live = [r for r in standing_readings(night) if r.row["source"] != Source.PAPER]
    for group in _grouped(live, lambda r: (*(r.row[name] for name in names), _value(r))):
        for before, after in pairwise(group):
            if after.ms - before.ms <= after.numbers.double_tap_s * 1000:
                after.mark("X33", "Blocked")


def find_too_alike(night: Night) -> None:
    """Mark X35: N12 or more identical figures in a row of one characteristic at a station, with a fine gauge."""
    figures = [r for r in standing_readings(night) if r.value is not None]
    names = ("station", "part", "operation", "characteristic")
    for group in _grouped(figures, lambda r: tuple(r.row[name] for name in names)):
        run: list[Reading] = []
        for reading in [*group, None]:
            if reading is not None and run and reading.value == run[-1].value:
                run.append(reading)
                continue
            for each in run:
                share = share_of(each)
                is_fine = share is not None and share <= Fraction(each.numbers.coarse_percent)
                if is_fine and len(run) >= each.numbers.alike_in_a_row:
                    each.mark("X35", "Flagged")
            run = [] if reading is None else [reading]


def find_too_fast(night: Night) -> None:
    """Mark X37: N13 pieces in a row, each sooner after the one before than hands can measure."""
    keyed = [
        r
        for r in standing_readings(night)
        if r.row["source"] == Source.KEYED and r.gauge is not None and r.gauge.kind in SHORTEST_CREDIBLE_S
    ]
    names = ("series", "lot", "characteristic", "gauge")
    for group in _grouped(keyed, lambda r: tuple(r.row[name] for name in names)):
        pieces = [
            reading
            for before, reading in zip([None, *group], group, strict=False)
            if before is None
            or (before.row["piece"], before.row["sample"]) != (reading.row["piece"], reading.row["sample"])
        ]
        run: list[Reading] = []
        for before, reading in [*pairwise(pieces), (None, None)]:
            is_fast = False
            if before is not None and reading is not None:
                assert reading.gauge is not None
                is_fast = reading.ms - before.ms < SHORTEST_CREDIBLE_S[reading.gauge.kind] * 1000
            if is_fast and reading is not None:
                run.append(reading)
                continue
            for each in run:
                if len(run) >= each.numbers.faster_in_a_row:
                    each.mark("X37", "Flagged")
            run = []


class LotStory:
    """When a lot was closed and opened again, and when it was known to be on hold."""

    def __init__(self, night: Night, lot: str) -> None:
        closings = [(act.ms, True) for act, close in night.of(LotClose) if close.lot == lot]
        closings += [(act.ms, False) for act, opened in night.of(LotReopen) if opened.lot == lot]
        self.closings = sorted(closings, key=lambda each: each[0])
        holds = [(night.start_ms, True)] if lot in night.carried else []
        holds += [(act.ms, True) for act, hold in night.of(Hold) if hold.lot == lot]
        for act, lift in night.of(HoldLift):
            if lift.lot == lot and has_level(night, act.signer, QUALITY, act.ms):
                holds.append((act.ms, False))
        for act, done in night.of(Disposition):
            if done.lot == lot and done.ends_hold and has_level(night, act.signer, QUALITY, act.ms):
                holds.append((act.ms, False))
        self._holds = sorted(holds, key=lambda each: each[0])

    def is_closed(self, ms: int) -> bool:
        """True from after the moment of a close up to the moment of the next opening."""
        state = False
        for at, closed in self.closings:
            if at < ms or (at == ms and not closed):
                state = closed
        return state

    def is_held(self, ms: int) -> bool:
        """True while a hold was known."""
        state = False
        for at, held in self._holds:
            state = held if at <= ms else state
        return state


def find_lot_marks(night: Night, lots: dict[str, LotStory]) -> None:
    """Mark X46, X47 and X51."""
    for reading in night.readings:
        story = lots.get(reading.row["lot"])
        if story is None:
            continue
        if story.is_closed(reading.ms):
            reading.mark("X46", "Blocked")
        elif story.is_closed(reading.row["received_at_ms"]):
            reading.mark("X47", "Counts")
        if is_production(reading) and story.is_held(reading.ms):
            reading.mark("X51", "Flagged")


def find_mixed_lots(night: Night) -> None:
    """Mark X50: a lot comes back at a station, and between two of the runs since nobody logged a changeover."""
    work = [
        r for r in standing_readings(night) if is_production(r) and night.start_ms - _SHIFT_MS <= r.ms < night.end_ms
    ]
    for group in _grouped(work, lambda r: r.row["station"]):
        runs: list[list[Reading]] = []
        for reading in group:
            if runs and runs[-1][-1].row["lot"] == reading.row["lot"]:
                runs[-1].append(reading)
            else:
                runs.append([reading])
        for at, run in enumerate(runs):
            same = [place for place in range(at) if runs[place][0].row["lot"] == run[0].row["lot"]]
            if not same:
                continue
            spell = runs[same[-1] : at + 1]
            if all(_is_cleared(night, one, other) for one, other in pairwise(spell)):
                continue
            for reading in (each for some in spell for each in some):
                reading.mark("X50", "Flagged")


def _is_cleared(night: Night, before: list[Reading], after: list[Reading]) -> bool:
    first, last = before[-1], after[0]
    return any(
        change.is_line_clear
        and change.to_lot == last.row["lot"]
        and act.page.station == last.row["station"]
        and first.ms <= act.ms <= last.ms
        for act, change in night.of(Changeover)
    )


def find_time_in_doubt(night: Night, gauges: dict[str, GaugeStory], lots: dict[str, LotStory], set_ups: SetUps) -> None:
    """Mark X74: blocked when a decision would come out differently somewhere inside the span, else flagged."""
    for reading in night.readings:
        if reading.made.is_in_doubt:
            depends = _depends(night, reading, gauges.get(reading.row["gauge"]), lots.get(reading.row["lot"]), set_ups)
            reading.mark("X74", "Blocked" if depends else "Flagged")


def _depends(night: Night, reading: Reading, gauge: GaugeStory | None, lot: LotStory | None, set_ups: SetUps) -> bool:
    low, high = reading.made.low, reading.made.high
    needs_approval = reading.plan is not None and reading.plan.needs_first_piece and reading.row["sample_kind"] in RUN

    def decided(ms: int) -> tuple[object, ...]:
        told: list[object] = [night.lists.part(reading.row["part"], moment_of(ms))]
        told.append(night.characteristic_at(reading.row, ms))
        if gauge is not None:
            told += [gauge.is_past_due(ms), night.lists.gauge(gauge.number, moment_of(ms))]
            told += [gauge.is_in_use(ms), gauge.is_in_trouble(ms)]
        if lot is not None:
            told.append(lot.is_closed(ms))
        if needs_approval:
            set_up = set_ups.of_reading(reading, ms)
            told += [set_up, set_ups.is_approved(set_up, ms)]
        return tuple(told)

    moments = _list_moments(night) | set_ups.moments
    moments |= (gauge.moments if gauge is not None else set()) | {
        at + after for at, _ in (lot.closings if lot else []) for after in (0, 1)
    }
    first = decided(low)
    if any(decided(ms) != first for ms in {*moments, high} if low < ms <= high):
        return True
    return qualification_differs(night, reading, low, high)


def _list_moments(night: Night) -> set[int]:
    lists = night.lists
    begins = [row.in_force_from for row in lists.parts] + [row.in_force_from for row in lists.gauges]
    begins += [row.in_force_from for row in lists.characteristics]
    return {text_ms(text) for text in begins if text is not None}
