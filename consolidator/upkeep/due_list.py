"""The due list and what is signed about it: gauges due and not brought in, extensions signed too late.

Owns what counts as brought in. Tells of gauges, not of readings.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from consolidator.authority.due import due_end
from consolidator.frame import Day
from consolidator.frame.words import say_date, say_time
from consolidator.frame.world import ActAt, ms_of, text_ms
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration, Extension
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeMovement, GaugeScan

_IN = ("returned", "sent out")
_OUT = ("issued", "borrowed")


@dataclass(frozen=True)
class Told:
    """What is told of one gauge: when it came about, in which words, by which pages."""

    gauge: str
    at_ms: int
    words: str
    pages: tuple[str, ...] = ()


def not_brought_in(day: Day) -> list[Told]:
    """Return the gauges whose due date ended in the day while they were in use and not in the calibration room."""
    found = []
    for number in sorted({gauge.number for gauge in day.world.lists.gauges}):
        end_ms = _end_in_day(day, number)
        if end_ms is None or day.gauges.state_at(number, end_ms - 1) != GaugeState.IN_USE:
            continue
        is_in, last = _whereabouts(day, number, end_ms)
        if not is_in:
            seen = "never" if last is None else say_time(last, day.world.zone)
            words = (
                f"{number} was due until {say_time(end_ms, day.world.zone)} and was not brought in; last seen {seen}."
            )
            found.append(Told(number, end_ms, words))
    return found


def late_extensions(day: Day) -> list[Told]:
    """Return the extensions that were signed in the day after the due date ended, or are dated before a signature."""
    found = []
    for act, extension in day.world.acts.of(Extension):
        for each in (act, *day.world.acts.seconds_of(act)):
            why = _why_late(day, each, extension)
            if why and day.world.start_ms <= each.at_ms < day.world.end_ms:
                words = f"The extension of {extension.gauge} from {say_date(extension.old_due)} to "
                words += f"{say_date(extension.new_due)} {why}; readings before it are past due all the same."
                found.append(Told(extension.gauge, each.at_ms, words, tuple(dict.fromkeys((act.ref, each.ref)))))
    return found


def _why_late(day: Day, act: ActAt, extension: Extension) -> str:
    zone, end_ms = day.world.zone, ms_of(due_end(extension.old_due, day.world.lists))
    if act.at_ms >= end_ms:
        return f"was signed {say_time(act.at_ms, zone)}, after the due date ended {say_time(end_ms, zone)}"
    signature = getattr(act.page.act, "signature", None)
    if signature is not None and text_ms(signature.at) > text_ms(act.page.kiosk_time):
        dated, signed = (say_time(text_ms(text), zone) for text in (act.page.kiosk_time, signature.at))
        return f"is dated {dated} and was signed {signed}"
    return ""


def _end_in_day(day: Day, number: str) -> int | None:
    """Return when a due date of a gauge ended inside the day without being renewed by then; none when none did."""
    start, end = day.world.start_ms, min(day.world.end_ms, day.world.at_ms)
    # Of all gauges, for one that was given and renewed inside the day ended in it too.
    told: set[int] = {int(each) for each in day.gauges.dues[1]}
    for end_ms in sorted(each for each in told if start < each <= end):
        if day.gauges.due_end_at(number, end_ms) == end_ms and day.gauges.due_end_at(number, end_ms - 1) == end_ms:
            return end_ms
    return None


def _whereabouts(day: Day, number: str, end_ms: int) -> tuple[bool, int | None]:
    """Return whether a gauge was in when its due date ended, and when it was last seen."""
    news = sorted(news for news in _news(day, number) if news[0] < end_ms)
    return (news[-1][1], news[-1][0]) if news else (False, None)


def _news(day: Day, number: str) -> Iterator[tuple[int, bool]]:
    """Give every moment at which a gauge was in somebody's hand, and whether it was brought in by that."""
    acts = day.world.acts
    for act, move in acts.of(GaugeMovement):
        if move.gauge == number and move.movement in (*_IN, *_OUT):
            yield act.at_ms, move.movement in _IN
    for act, done in acts.of(Calibration):
        if done.gauge == number:
            # Found and not left yet: it lies in the calibration room. Left good, it has a new due date.
            yield max(act.at_ms, text_ms(done.done_at)), done.stage == "as-found"
    yield from ((act.at_ms, False) for act, check in acts.of(Check) if check.gauge == number)
    yield from ((act.at_ms, False) for act, scan in acts.of(GaugeScan) if scan.gauge == number)
    code = day.pages.gauge.code_of(number)
    if code >= 0:
        mine = day.ms[(day.pages.gauge.codes == code) & (day.ms < day.world.end_ms)]
        if len(mine):
            yield from ((int(ms), False) for ms in np.unique(mine).tolist())
