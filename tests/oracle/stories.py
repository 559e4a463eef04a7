"""What is found of gauges, kiosks, books and set-ups rather than of single readings (X22, X54, X70-X72, X76-X79)."""

from collections.abc import Callable, Iterator

from consolidator.intake.held import Kiosk
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration, PagesLost, Seal
from kiosk.pages.readings import Check
from kiosk.pages.station import FirstPieceApproval, GaugeMovement, GaugeScan
from tests.oracle.authority import QUALITY, second_of
from tests.oracle.gauges import GaugeStory, begin
from tests.oracle.night import ActAt, Night, Reading
from tests.oracle.samples import Named
from tests.oracle.setups import SetUps
from tests.oracle.single import altered_readings
from tests.oracle.times import moment_of, ms_of, text_ms

_FORTNIGHT_MS = 14 * 24 * 3_600_000


def named_by(night: Night, numbers: tuple[str, ...], cause: Callable[[Reading], str | None]) -> Named:
    """Return kinds as they stand on the day's readings, by what they name as their cause."""
    return {
        (number, cause(reading) or "not named")
        for reading in night.readings
        if night.stands_today(reading)
        for number in reading.marks
        if number in numbers
    }


def unseen_gauges(night: Night) -> Named:
    """X22: past due before the day began and not seen since, or not seen for 14 days."""
    found, last = set(), night.end_ms - 1
    first_page = min((act.ms for act in night.acts), default=night.end_ms)
    for number in {row.number for row in night.lists.gauges}:
        story, row = GaugeStory(night, number), night.lists.gauge(number, moment_of(last))
        if row is None or story.state_at(last) != GaugeState.IN_USE:
            continue
        seen = max((ms for ms in _sightings(night, number) if ms < night.end_ms), default=None)
        due = story.due_at(last)
        if due is not None and due[1] <= night.start_ms and (seen is None or seen < due[1]):
            found.add(("X22", number))
        since = max(first_page, begin(row.in_force_from))
        if night.end_ms - max(since, since if seen is None else seen) >= _FORTNIGHT_MS:
            found.add(("X22", number))
    return found


def _sightings(night: Night, number: str) -> Iterator[int]:
    for act in night.acts:
        what = act.page.act
        is_seen = isinstance(what, GaugeScan | Check) and what.gauge == number
        is_moved = isinstance(what, GaugeMovement) and what.gauge == number and what.movement != "not found"
        if is_seen or is_moved:
            yield act.ms
    for act, done in night.of(Calibration):
        if done.gauge == number:
            yield max(act.ms, text_ms(done.done_at))
    yield from (reading.ms for reading in night.readings if reading.row["gauge"] == number)


def void_approvals(night: Night, set_ups: SetUps) -> Named:
    """X54: an approval of this day by the wrong person."""
    return {
        ("X54", approval.set_up)
        for act, approval in night.of(FirstPieceApproval)
        if night.is_today(act.ms) and set_ups.why_void(act, approval)
    }


def silent_kiosks(night: Night) -> Named:
    """X70: no contact within N15 before the close of day."""
    return {("X70", kiosk.series) for kiosk in night.held.kiosks if _is_silent(night, kiosk)}


def _is_silent(night: Night, kiosk: Kiosk) -> bool:
    if ms_of(kiosk.enrolled_at) > night.at_ms:
        return False
    if kiosk.withdrawn_at is not None and ms_of(kiosk.withdrawn_at) <= night.at_ms:
        return False
    heard = [ms_of(at) for at in (kiosk.last_contact_at, kiosk.last_arrival_at) if at is not None]
    since = max([ms for ms in heard if ms <= night.at_ms], default=ms_of(kiosk.enrolled_at))
    return night.at_ms - since > night.lists.numbers(moment_of(night.at_ms)).silent_h * 3_600_000


def missing_pages(night: Night) -> Named:
    """X72 for a gap in a book beside pages of the day, X79 where two persons declared it lost."""
    found = set()
    for series, runs in night.held.runs.items():
        held = sorted((run.first, run.last) for run in runs)
        reached = 0
        for first, last in held:
            if first > reached + 1 and _is_of_day(night, series, reached, first):
                name = str(first - 1) if first - reached == 2 else f"{reached + 1}–{first - 1}"
                is_lost = any(
                    lost.series == series
                    and lost.first <= reached + 1
                    and first - 1 <= lost.last
                    and second_of(night, act, (QUALITY, QUALITY)) is not None
                    for act, lost in night.of(PagesLost)
                )
                found.add(("X79" if is_lost else "X72", f"{series} {name}"))
            reached = max(reached, last)
    return found


def _is_of_day(night: Night, series: str, before: int, after: int) -> bool:
    """True when a page beside the gap is of the day, or the day lies inside the gap."""
    low, high = _made(night, series, before), _made(night, series, after)
    if any(ms is not None and night.is_today(ms) for ms in (low, high)):
        return True
    return low is not None and high is not None and low < night.start_ms and high >= night.end_ms


def _made(night: Night, series: str, number: int) -> int | None:
    pages: list[ActAt | Reading] = [
        *(r for r in night.readings if (r.row["series"], r.row["number"]) == (series, number)),
        *(a for a in night.acts if (a.page.series, a.page.number) == (series, number)),
    ]
    return pages[0].ms if pages else None


def late_acts(night: Night) -> Named:
    """X71 for pages of the day that are no readings."""
    seals = [act.ms for act, seal in night.of(Seal) if seal.day == night.day]
    return {
        ("X71", act.page.series)
        for act in night.acts
        if night.is_today(act.ms) and any(sealed < act.received_ms for sealed in seals)
    }


def found_today(night: Night) -> Named:
    """X34, X76 and X77 of pages that are no readings of the day: named in the day they were found."""
    altered = {reading.ref for reading in altered_readings(night)}
    twice = {r.ref for r in night.readings if r.is_conflict and night.stands_today(r)}
    found = set()
    for page in night.held.altered:
        if f"{page.series}/{page.number}" not in altered and _is_now(night, ms_of(page.found_at)):
            found.add(("X76", page.series))
    for conflict in night.held.conflicts:
        if f"{conflict.series}/{conflict.number}" not in twice and _is_now(night, ms_of(conflict.found_at)):
            found.add(("X34", conflict.series))
    with_pages = {reading.row["series"] for reading in night.readings}
    for packet in night.held.unknown:
        is_told = packet.is_withdrawn and packet.series in with_pages
        if _is_now(night, ms_of(packet.received_at)) and not is_told:
            found.add(("X77", packet.series))
    return found


def _is_now(night: Night, ms: int) -> bool:
    return night.start_ms <= ms < max(night.end_ms, night.at_ms + 1)
