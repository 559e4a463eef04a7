"""Who took a reading, and whether that person could (X65-X67; decisions 0019 and 0038)."""

from datetime import datetime, time, timedelta

from kiosk.lists.words import Level
from kiosk.pages.readings import Countersign, SampleEnd
from kiosk.pages.words import SampleKind
from kiosk.times import shift_of
from tests.oracle.authority import MEASURING, begins, has_lapsed
from tests.oracle.night import Night, Reading
from tests.oracle.times import moment_of, ms_of, text_ms

_HALF_HOUR_MS = 30 * 60_000
_NEVER_LAPSED = (SampleKind.FIRST, SampleKind.TEST, SampleKind.ACCEPTANCE)


def fitness(night: Night, person: str | None, levels: frozenset[Level], reading: Reading, ms: int) -> str | int:
    """Return fit, never, or for how many days the last of a person's rows has lapsed."""
    kind = None if reading.gauge is None else str(reading.gauge.kind)
    rows = [
        row
        for row in night.lists.qualifications
        if row.person == person
        and row.level in levels
        and row.operation in ("*", reading.row["operation"])
        and (kind is None or row.gauge_kind in ("*", kind))
        and begins(night, row, ms)
    ]
    if any(not has_lapsed(night, row, ms) for row in rows):
        return "fit"
    untils = [row.valid_until for row in rows if row.valid_until is not None]
    return (night.local_date(ms) - max(untils)).days if untils else "never"


def find_unfit(night: Night, signed: set[Reading]) -> None:
    """Mark X65 and X66 on what was taken by somebody not qualified and not countersigned."""
    for reading in night.readings:
        state = fitness(night, reading.taker, MEASURING, reading, reading.ms)
        if reading in signed or state == "fit":
            continue
        if state == "never":
            reading.mark("X65", "Blocked")
            continue
        assert isinstance(state, int)
        is_final = reading.plan is not None and reading.plan.is_final
        is_tolerated = state <= reading.numbers.lapsed_days and not is_final
        is_tolerated = is_tolerated and reading.row["sample_kind"] not in _NEVER_LAPSED
        reading.mark("X66", "Flagged" if is_tolerated else "Blocked")


def find_off_shift(night: Night) -> None:
    """Mark X68 on what was taken by somebody whom the list of that shift does not name; no list says nothing."""
    listed: dict[tuple[object, int], set[str]] = {}
    for row in night.lists.shifts:
        listed.setdefault((row.day, row.shift), set()).add(row.person)
    for reading in night.readings:
        here = listed.get(shift_of(moment_of(reading.ms), night.zone))
        if here is not None and reading.taker is not None and reading.taker not in here:
            reading.mark("X68", "Flagged")


def countersigned(night: Night) -> set[Reading]:
    """Return the readings that a qualified trainer countersigned inside their sample."""
    signed: set[Reading] = set()
    names = ("lot", "operation", "characteristic", "sample")
    for act, sign in night.of(Countersign):
        where = tuple(getattr(sign, name) for name in names)
        mine = [
            reading
            for reading in night.readings
            if reading.row["series"] == act.page.series
            and tuple(reading.row[name] for name in names) == where
            and reading.taker == sign.trainee
        ]
        trainer = act.page.person
        if not mine or trainer is None or trainer == sign.trainee:
            continue
        times, numbers = [reading.ms for reading in mine], [reading.row["number"] for reading in mine]
        is_inside = min(times) - _HALF_HOUR_MS <= act.ms <= max(times) + _HALF_HOUR_MS
        has_ended = any(
            end_act.page.series == act.page.series
            and tuple(getattr(end, name) for name in names) == where
            and min(numbers) <= end_act.page.number < act.page.number
            for end_act, end in night.of(SampleEnd)
        )
        if not is_inside or has_ended:
            continue
        level = frozenset({Level.TRAINER})
        signed |= {reading for reading in mine if fitness(night, trainer, level, reading, act.ms) == "fit"}
    return signed


def qualification_differs(night: Night, reading: Reading, low: int, high: int) -> bool:
    """True when a row of the taker's qualifications begins, lapses, or is lapsed too long, inside a span (0030)."""
    rows = [q for q in night.lists.qualifications if q.person == reading.taker and q.level in MEASURING]

    def picture(ms: int) -> list[tuple[bool, bool, bool]]:
        tolerated = night.lists.numbers(moment_of(ms)).lapsed_days
        return [
            (
                begins(night, row, ms),
                has_lapsed(night, row, ms),
                row.valid_until is not None and (night.local_date(ms) - row.valid_until).days > tolerated,
            )
            for row in rows
        ]

    moments = {text_ms(row.in_force_from) for row in rows if row.in_force_from is not None}
    moments |= {text_ms(row.in_force_from) for row in night.lists.plant_numbers if row.in_force_from is not None}
    day = night.local_date(low)
    while day <= night.local_date(high):
        moments.add(ms_of(datetime.combine(day, time(0, 0), tzinfo=night.zone)))
        day += timedelta(days=1)
    return any(picture(ms) != picture(low) for ms in moments if low < ms <= high)
