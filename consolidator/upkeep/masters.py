"""What gauges were set and calibrated with, and whether that was sound at the time.

Owns the state of a master at the minute of a zero check or calibration. A sound check or calibration since ends the
trouble it made; a zero check on a sound master says nothing for an unsound calibration.
"""

from dataclasses import dataclass

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded
from consolidator.frame.gauges import GaugeHistory, master_of_check
from consolidator.frame.words import say_time
from consolidator.frame.world import World, text_ms
from consolidator.upkeep.checks import CheckAt, Matched, checks_of, last_before
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration

_NO_READINGS = Coded(np.zeros(0, np.int32), ())


class Masters:
    """The histories of all masters, and of gauges that serve as masters."""

    def __init__(self, world: World) -> None:
        self._world = world
        masters = GaugeHistory(_NO_READINGS, world, world.lists.masters)
        gauges = GaugeHistory(_NO_READINGS, world)
        self._histories = [(masters, {row.number for row in world.lists.masters}), (gauges, set())]
        self._histories[1] = (gauges, {row.number for row in world.lists.gauges} - self._histories[0][1])

    def why_unsound(self, number: str, ms: int) -> str:
        """Say why a master was not sound at a moment; empty when nothing is known against it then."""
        for history, numbers in self._histories:
            if number not in numbers:
                continue
            state = history.state_at(number, ms)
            if state is not None and state != GaugeState.IN_USE:
                return f"was {str(state).lower()}"
            end = history.due_end_at(number, ms)
            if end is not None and ms >= end:
                return f"was due until {say_time(end, self._world.zone)}"
        return ""

    def trouble(self, numbers: tuple[str, ...], ms: int) -> str:
        """Say which of some masters was not sound at a moment and why; empty when all were."""
        told = ((number, self.why_unsound(number, ms)) for number in numbers)
        return "; ".join(f"{number} {why}" for number, why in told if why)


def set_on_unsound(day: Day) -> Matched:
    """The last good check before the reading, or the last calibration, was made with a master not sound then."""
    masters = Masters(day.world)
    rows = np.flatnonzero(day.is_judged & day.pages.gauge.is_given)
    good = [each for each in checks_of(day) if each.is_good]
    by_check = [_trouble_of_check(day, masters, each) for each in good]
    checked = last_before(day, rows, good)
    steps, calibrated = _calibrations(day, masters)
    place = steps.at(day.pages.gauge.codes[rows], day.ms[rows])
    is_bad_check = np.array([*(bool(trouble) for trouble in by_check), False], bool)[checked]
    is_bad_calibration = np.array([*(bool(each.trouble) for each in calibrated), False], bool)[place]
    mask = np.zeros(len(day.pages), bool)
    mask[rows] = is_bad_check | is_bad_calibration
    of_row = {int(row): at for at, row in enumerate(rows.tolist()) if mask[row]} if mask.any() else {}

    def tell(row: int) -> str:
        at = of_row[row]
        number, read = day.pages.gauge.at(row), say_time(int(day.ms[row]), day.world.zone)
        if is_bad_check[at]:
            check = int(checked[at])
            when = say_time(good[check].act.at_ms, day.world.zone)
            return f"{number} was checked {when} with {by_check[check]}; read {read}."
        calibration = calibrated[int(place[at])]
        when = say_time(calibration.done_ms, day.world.zone)
        return f"{number} was calibrated {when} with {calibration.trouble}; read {read}."

    return Matched(mask, tell)


def _trouble_of_check(day: Day, masters: Masters, each: CheckAt) -> str:
    number = master_of_check(day.world, each.act, each.check)
    return "" if number is None else masters.trouble((number,), each.act.at_ms)


@dataclass(frozen=True)
class _Calibrated:
    gauge: str
    done_ms: int
    from_ms: int
    """From when it stands: what is bad from when it was done, what is good from its page on."""
    trouble: str


def _calibrations(day: Day, masters: Masters) -> tuple[Steps, list[_Calibrated]]:
    """Return the calibrations of the gauges named in readings that show them good, from when each is the last."""
    told = [
        (row.gauge, text_ms(row.done_at), text_ms(row.done_at), row.masters, row.as_left == "Good")
        for row in day.world.lists.calibrations
        if "Good" in (row.as_found, row.as_left)
    ]
    for act, done in day.world.acts.of(Calibration):
        is_found_good = done.stage != "as-left" and done.as_found == "Good"
        is_set = done.stage != "as-found" and done.as_left == "Good"
        if is_found_good or is_set:
            page_ms = max(act.at_ms, text_ms(done.done_at))
            told.append((done.gauge, text_ms(done.done_at), page_ms, done.masters, is_set))
    found: list[_Calibrated] = []
    for gauge, done_ms, page_ms, numbers, is_set in told:
        if day.pages.gauge.code_of(gauge) >= 0:
            trouble = masters.trouble(numbers, done_ms)
            if trouble and not is_set:
                continue  # an as-found sets nothing; made with an unsound master it shows nothing either
            found.append(_Calibrated(gauge, done_ms, done_ms if trouble else page_ms, trouble))
    found.sort(key=lambda each: each.done_ms)
    last: dict[str, int] = {}
    standing: list[_Calibrated] = []
    for place, each in sorted(enumerate(found), key=lambda told: (told[1].from_ms, told[0])):
        if place >= last.get(each.gauge, 0):  # what was done earlier and entered later says nothing of what came after
            last[each.gauge] = place
            standing.append(each)
    codes = [day.pages.gauge.code_of(each.gauge) for each in standing]
    return Steps.of(codes, [each.from_ms for each in standing]), standing
