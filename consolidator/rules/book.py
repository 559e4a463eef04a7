"""Rules about kiosks and their books: X70 to X79.

What is missing is told before what is wrong: no data is not good news.
"""

from typing import Final, NamedTuple

import numpy as np

from consolidator.authority import Deed
from consolidator.frame import Day
from consolidator.frame.coded import Flags
from consolidator.frame.day import late_numbers
from consolidator.frame.pages import NO_TIME
from consolidator.frame.verdicts import VERDICTS
from consolidator.frame.words import many, say_elapsed, say_time
from consolidator.frame.world import ActAt, ms_of
from consolidator.intake.held import Kiosk, Run
from consolidator.production.set_ups import approval_differs
from consolidator.rules.found import Found, Rule, Story, found, rows_of
from consolidator.rules.kinds import Effect
from consolidator.rules.lots import is_old_plan
from consolidator.rules.people import qualification_differs
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import PagesLost
from kiosk.pages.words import Source

_LATE_MS: Final = 72 * 3_600_000
_HOUR_MS: Final = 3_600_000
_YEAR_MS: Final = 365 * 24 * _HOUR_MS


def last_contact_ms(day: Day, kiosk: Kiosk) -> int | None:
    """Return when a kiosk was last heard from by any way, not after the moment of closing; none when never."""
    told = [ms_of(at) for at in (kiosk.last_contact_at, kiosk.last_arrival_at) if at is not None]
    return max((ms for ms in told if ms <= day.world.at_ms), default=None)


def is_silent(day: Day, kiosk: Kiosk) -> bool:
    """True when an enrolled kiosk was not heard from within N15 before the moment of closing."""
    at, gone = day.world.at_ms, kiosk.withdrawn_at
    if (gone is not None and ms_of(gone) <= at) or ms_of(kiosk.enrolled_at) > at:
        return False
    heard = last_contact_ms(day, kiosk)
    since = ms_of(kiosk.enrolled_at) if heard is None else heard
    return at - since > day.world.numbers.at(at).silent_h * _HOUR_MS


def silent_kiosk(day: Day) -> list[Story]:
    """X70: no contact within N15 before the close of day."""
    stories = []
    for kiosk in sorted(day.world.held.kiosks, key=lambda each: each.series):
        if not is_silent(day, kiosk):
            continue
        heard = last_contact_ms(day, kiosk)
        since = ms_of(kiosk.enrolled_at) if heard is None else heard
        words = f"last contact {say_time(since, day.world.zone)}" if heard is not None else "never since its enrolment"
        closed, limit = say_time(day.world.at_ms, day.world.zone), day.world.numbers.at(day.world.at_ms).silent_h
        sentence = f"{kiosk.series} at {kiosk.station}: {words}, closed {closed} (silent from {limit} h on)."
        stories.append(Story("X70", kiosk.series, sentence, since, stations=(kiosk.station,)))
    return stories


def late_pages(day: Day) -> list[Found]:
    """X71: arrived after the day was sealed."""
    late = day.pages.received_at_ms - day.ms

    def tell(row: int) -> str:
        arrived = say_time(int(day.pages.received_at_ms[row]), day.world.zone)
        return f"Arrived {arrived} after the day was sealed, {say_elapsed(int(late[row]))} after it was made."

    rows = rows_of(day, day.late > 0)
    is_old = late[rows] > _LATE_MS
    series = day.pages.series
    return [
        *found("X71", rows[~is_old], series, tell),
        *found("X71", rows[is_old], series, tell, urgency_word="C"),
    ]


def missing_pages(day: Day) -> list[Story]:
    """X72: a gap in the page run of a kiosk, in pages of this day."""
    gaps = [each for each in gaps_of_day(day) if not _is_declared_lost(day, each[0], each[1])]
    return [_gap_story("X72", day, each, _gap_sentence(day, *each)) for each in gaps]


def late_acts(day: Day) -> list[Story]:
    """X71 for pages of the day that are no readings."""
    late: dict[str, list[ActAt]] = {}
    acts = [act for act in day.world.acts.all if day.world.start_ms <= act.at_ms < day.world.end_ms]
    books = late_numbers(np.array([act.received_ms for act in acts], np.int64), day.world)
    for act, number in zip(acts, books.tolist(), strict=True):
        if number:
            late.setdefault(act.page.series, []).append(act)
    stories = []
    for series, pages in sorted(late.items()):
        arrived = say_time(max(act.received_ms for act in pages), day.world.zone)
        sentence = f"{many(len(pages), 'page')} of {series} arrived after the day was sealed, the last {arrived}."
        refs = tuple(act.ref for act in pages)
        stories.append(Story("X71", series, sentence, pages[0].at_ms, stations=(pages[0].page.station,), pages=refs))
    return stories


def clock_off(day: Day) -> list[Found]:
    """X73: the kiosk's clock was off by more than N2; the effective time is used."""

    def tell(row: int) -> str:
        by = int(day.pages.kiosk_time_ms[row] - day.ms[row])
        word = "fast" if by > 0 else "slow"
        limit = day.world.numbers.at(int(day.ms[row])).clock_agreement_s
        return f"The clock of {day.pages.series.at(row)} was {say_elapsed(by)} {word} (allowed {limit} s)."

    return found("X73", rows_of(day, day.times.is_off), day.pages.series, tell)


def time_in_doubt(day: Day) -> list[Found]:
    """X74: made in an earlier session of a kiosk whose clock was off; blocked when a decision hangs on it."""
    in_doubt = day.times.is_in_doubt
    depends = depends_on_time(day) & in_doubt if in_doubt.any() else in_doubt

    def tell(row: int) -> str:
        span = int(day.times.low_ms[row]), int(day.times.high_ms[row])
        low, high = (say_time(side, day.world.zone, with_year=span[1] - span[0] > _YEAR_MS) for side in span)
        end = "; a decision depends on it" if depends[row] else ""
        return f"{day.pages.ref(row)} was made between {low} and {high}{end}."

    series = day.pages.series
    return [
        *found("X74", rows_of(day, in_doubt & depends), series, tell, effect=Effect.BLOCKED),
        *found("X74", rows_of(day, in_doubt & ~depends), series, tell),
    ]


def old_lists(day: Day) -> list[Found]:
    """X75: the kiosk's lists were older than N3 at the reading, or its verdict is another than close of day's."""
    limit = day.world.numbers.per_row("lists_flagged_h", day.ms, times=_HOUR_MS)
    age = day.pages.kiosk_time_ms - day.pages.lists_taken_at_ms
    is_old = (day.pages.lists_taken_at_ms != NO_TIME) & (age > limit)
    differs = _differs(day)

    def tell(row: int) -> str:
        if is_old[row]:
            hours = int(limit[row]) // _HOUR_MS
            return f"Judged with lists {say_elapsed(int(age[row]))} old (flagged from {hours} h on)."
        now = VERDICTS[int(day.verdicts.verdict[row])]
        return f"The kiosk said {day.pages.verdict.at(row)}, close of day says {now} ({day.pages.ref(row)})."

    return found("X75", rows_of(day, is_old | differs), day.pages.series, tell)


def altered_page(day: Day) -> list[Found]:
    """X76: a page does not fit its fingerprint, its chain or the page format."""

    def tell(row: int) -> str:
        return f"Page {day.pages.ref(row)} does not fit its fingerprint or the chain."

    return found("X76", rows_of(day, day.is_altered), day.pages.series, tell)


def altered_elsewhere(day: Day) -> list[Story]:
    """X76 for a page that is no reading of the day, or cannot be read at all; raised in the day it was found."""
    stories = []
    known = {day.pages.ref(row) for row in np.flatnonzero(day.is_altered).tolist()}
    for page in sorted(day.world.held.altered, key=lambda each: (each.series, each.number, each.fingerprint)):
        ref, found_ms = f"{page.series}/{page.number}", ms_of(page.found_at)
        if ref not in known and _is_found_today(day, found_ms):
            sentence = f"Page {ref} does not fit ({page.unfit}): {page.why}"
            stories.append(Story("X76", page.series, sentence, found_ms, pages=(ref,)))
    return stories


def one_number_elsewhere(day: Day) -> list[Story]:
    """X34 for two pages with one number that are no readings of the day; raised in the day it was found."""
    known = {day.pages.ref(row) for row in np.flatnonzero(day.is_conflict & day.is_in_day).tolist()}
    stories = []
    for conflict in sorted(day.world.held.conflicts, key=lambda each: (each.series, each.number)):
        ref, found_ms = f"{conflict.series}/{conflict.number}", ms_of(conflict.found_at)
        if ref not in known and _is_found_today(day, found_ms):
            sentence = f"Two different pages bear the number {ref}."
            stories.append(Story("X34", conflict.series, sentence, found_ms, pages=(ref,)))
    return stories


def unknown_kiosk(day: Day) -> list[Found]:
    """X77: pages of a series that is not enrolled, or that came after it was withdrawn."""
    gone = {k.series: ms_of(k.withdrawn_at) for k in day.world.held.kiosks if k.withdrawn_at is not None}
    enrolled = {kiosk.series for kiosk in day.world.held.kiosks}
    withdrawn = day.pages.series.spread(lambda series: gone.get(series, 2**61), 2**61)
    is_known = day.pages.series.spread(lambda series: int(series in enrolled), 0).astype(bool)

    def tell(row: int) -> str:
        word = "was withdrawn" if is_known[row] else "is not enrolled"
        return f"{day.pages.series.at(row)} {word}; page {day.pages.ref(row)} came all the same."

    unknown = ~is_known | (day.pages.received_at_ms > withdrawn)
    return found("X77", rows_of(day, unknown), day.pages.series, tell)


def unknown_packets(day: Day) -> list[Story]:
    """X77 for packets whose pages nothing proves; raised in the day they came."""
    known = set(day.pages.series.labels)
    stories = []
    for packet in sorted(day.world.held.unknown, key=lambda each: (each.series, each.first, each.last, each.file)):
        ms, word = ms_of(packet.received_at), "was withdrawn" if packet.is_withdrawn else "is not enrolled"
        if _is_found_today(day, ms) and not (packet.is_withdrawn and packet.series in known):
            sentence = f"A packet of {packet.series}, pages {packet.first}–{packet.last}, came; {packet.series} {word}."
            stories.append(Story("X77", packet.series, sentence, ms))
    return stories


def from_paper(day: Day) -> list[Found]:
    """X78: keyed from a paper form."""

    def tell(row: int) -> str:
        keyed = say_time(int(day.pages.kiosk_time_ms[row]), day.world.zone)
        taken = say_time(int(day.ms[row]), day.world.zone)
        read_back = day.pages.read_back_by.is_given[row]
        return f"Written {taken}, keyed {keyed}, {'read back' if read_back else 'not read back'} by a second person."

    return found("X78", rows_of(day, day.pages.source.is_one_of(Source.PAPER)), day.pages.series, tell)


def declared_lost(day: Day) -> list[Story]:
    """X79: pages of this day declared lost by two persons."""
    stories = []
    for series, gap, sides in gaps_of_day(day):
        if _is_declared_lost(day, series, gap):
            words = f"{series}: {many(gap.last - gap.first + 1, 'page')} declared lost ({_numbers(gap)})."
            stories.append(_gap_story("X79", day, (series, gap, sides), words))
    return stories


def depends_on_time(day: Day) -> Flags:
    """Tell for each reading whether a decision would come out differently somewhere inside the span of its time."""
    span = (day.times.low_ms, day.times.high_ms)
    gauge, lot = day.pages.gauge.codes, day.pages.lot.codes
    past, is_past = day.gauges.past_due
    states, state, _ = day.gauges.states
    incidents, acts = day.gauges.incidents
    closings, is_closed, _ = day.lots.closings
    is_in_use = np.array([each == GaugeState.IN_USE for each in state], bool)
    is_open = np.array([act is not None for act in acts], bool)
    places = np.arange(len(day.plans.characteristics))
    return np.asarray(
        past.differs_between(gauge, span, is_past)
        | day.gauges.row_steps.differs_between(gauge, span, np.arange(len(day.gauges.rows)))
        | states.differs_between(gauge, span, is_in_use)
        | incidents.differs_between(gauge, span, is_open)
        | closings.differs_between(lot, span, is_closed)
        | day.plans.characteristic_steps.differs_between(day.plans.characteristic_code, span, places)
        | day.plans.part_steps.differs_between(day.pages.part.codes, span, np.arange(len(day.plans.parts)))
        | approval_differs(day, span)
        | qualification_differs(day, span)
    )


class Neighbour(NamedTuple):
    """A page next to a gap: when it was made, at which station, and the nearest lot named on that side."""

    at_ms: int
    station: str
    number: int
    lot: str


Gap = tuple[str, Run, tuple[Neighbour | None, Neighbour | None]]


def gaps_of(day: Day) -> list[tuple[str, Run]]:
    """Return every run of page numbers that is not held, of every series, up to its last page."""
    gaps = []
    for series, runs in sorted(day.world.held.runs.items()):
        following = 1
        for run in sorted(runs):
            if run.first > following:
                gaps.append((series, Run(following, run.first - 1)))
            following = max(following, run.last + 1)
    return gaps


def gaps_of_day(day: Day) -> list[Gap]:
    """Return the gaps beside which a page of this production day stands, or which span it."""
    by_series: dict[str, list[Run]] = {}
    for series, gap in gaps_of(day):
        by_series.setdefault(series, []).append(gap)
    acts: dict[str, list[ActAt]] = {series: [] for series in by_series}
    for act in day.world.acts.all:
        if act.page.series in acts:
            acts[act.page.series].append(act)
    found_gaps: list[Gap] = []
    start, end = day.world.start_ms, day.world.end_ms
    for series, gaps in by_series.items():
        book = _Book(day, series, acts[series])
        for gap in gaps:
            before, after = book.beside(gap.first - 1, -1), book.beside(gap.last + 1, 1)
            inside = [side is not None and start <= side.at_ms < end for side in (before, after)]
            spans = before is not None and after is not None and before.at_ms < start and after.at_ms >= end
            if any(inside) or spans:
                found_gaps.append((series, gap, (before, after)))
    return found_gaps


class _Book:
    """The pages of one series at hand, in page order."""

    def __init__(self, day: Day, series: str, acts: list[ActAt]) -> None:
        self._day, self._acts = day, acts
        code = day.pages.series.code_of(series)
        self._start, end = np.searchsorted(day.pages.series.codes, [code, code + 1]).tolist()
        numbers = [day.pages.number[self._start : end], np.array([act.page.number for act in acts], np.int64)]
        lots = [day.pages.lot.codes[self._start : end] >= 0, np.array([bool(_lot(act)) for act in acts], bool)]
        self._order = np.argsort(np.concatenate(numbers), kind="stable")
        self._numbers = np.concatenate(numbers)[self._order]
        self._with_lot = np.flatnonzero(np.concatenate(lots)[self._order])
        self._readings = end - self._start

    def beside(self, number: int, way: int) -> Neighbour | None:
        """Return the page `number`, with the lot of the nearest page that names one on that side; none if not held."""
        at = int(np.searchsorted(self._numbers, number))
        if at == len(self._numbers) or self._numbers[at] != number:
            return None
        last = int(np.searchsorted(self._numbers, number, side="right"))
        near = int(np.searchsorted(self._with_lot, at if way > 0 else last)) - (way < 0)
        lot = self._told(int(self._with_lot[near]))[2] if 0 <= near < len(self._with_lot) else ""
        ms, station, _ = self._told(at)
        return Neighbour(ms, station, number, lot)

    def _told(self, place: int) -> tuple[int, str, str]:
        at = int(self._order[place])
        if at >= self._readings:
            act = self._acts[at - self._readings]
            return act.at_ms, act.page.station, _lot(act)
        row = self._start + at
        return int(self._day.ms[row]), self._day.pages.station.at(row), self._day.pages.lot.at(row)


def _lot(act: ActAt) -> str:
    return str(getattr(act.page.act, "lot", None) or "")


def _gap_story(number: str, day: Day, found_gap: Gap, sentence: str) -> Story:
    series, gap, sides = found_gap
    beside = [side for side in sides if side is not None]
    opened_ms = sides[0].at_ms if sides[0] is not None else day.world.start_ms
    lots = tuple(sorted({side.lot for side in beside if side.lot}))
    stations = tuple(sorted({side.station for side in beside}))
    return Story(number, f"{series} {_numbers(gap)}", sentence, opened_ms, lots=lots, stations=stations, holds=lots)


def _gap_sentence(day: Day, series: str, gap: Run, sides: tuple[Neighbour | None, Neighbour | None]) -> str:
    words = [f"page {side.number} {say_time(side.at_ms, day.world.zone)}" for side in sides if side is not None]
    lots = sorted({side.lot for side in sides if side is not None and side.lot})
    about = f" Lots: {', '.join(lots)}." if lots else ""
    noun = "page" if gap.first == gap.last else "pages"
    return f"{series}: {noun} {_numbers(gap)} missing, between {' and '.join(words)}.{about}"


def _numbers(gap: Run) -> str:
    return str(gap.first) if gap.first == gap.last else f"{gap.first}–{gap.last}"


def _is_declared_lost(day: Day, series: str, gap: Run) -> bool:
    for act, lost in day.world.acts.of(PagesLost):
        covers = lost.series == series and lost.first <= gap.first and gap.last <= lost.last
        if covers and day.world.second_of(act, Deed.DECLARE_LOST) is not None:
            return True
    return False


def _is_found_today(day: Day, ms: int) -> bool:
    return day.world.start_ms <= ms < max(day.world.end_ms, day.world.at_ms + 1)


def _differs(day: Day) -> Flags:
    """Tell where the kiosk's verdict is another one without a change of revision or a slip that explains it."""
    words = [str(verdict) for verdict in VERDICTS]
    told = day.pages.verdict.spread(lambda word: words.index(word) if word in words else -1, -1)
    is_told = is_old_plan(day) | (day.plans.characteristic_row < 0)
    return np.asarray((told >= 0) & (told != day.verdicts.verdict) & ~is_told)


RULES: Final = (
    Rule("X34", one_number_elsewhere),
    Rule("X70", silent_kiosk),
    Rule("X71", late_pages),
    Rule("X71", late_acts),
    Rule("X72", missing_pages),
    Rule("X73", clock_off),
    Rule("X74", time_in_doubt),
    Rule("X75", old_lists),
    Rule("X76", altered_page),
    Rule("X76", altered_elsewhere),
    Rule("X77", unknown_kiosk),
    Rule("X77", unknown_packets),
    Rule("X78", from_paper),
    Rule("X79", declared_lost),
)
