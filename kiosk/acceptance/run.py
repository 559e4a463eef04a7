"""What came out of the ten readings, as the pages of the book tell it.

Pure: pages in, results out. So the run goes on after the power was pulled, and nobody can pass it by a word.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from kiosk.acceptance.kit import Kit
from kiosk.pages import Page
from kiosk.pages.readings import AskedAgain, Reading
from kiosk.pages.station import GaugeIncident, GaugeScan, PowerOn, Refusal
from kiosk.pages.words import Standing, Verdict


class Task(StrEnum):
    """The ten, in their order; what stops a gauge for good comes last."""

    IN = "in tolerance"
    OUT = "out of tolerance"
    LIMIT = "at the limit"
    DECIMAL_SLIP = "decimal slip"
    UNIT_SLIP = "unit slip"
    POWER = "power plug pulled"
    PAST_DUE = "gauge past its due date"
    WRONG_THREAD = "wrong thread gauge"
    ACCEPT = "accept or reject"
    DROPPED = "dropped gauge"


@dataclass(frozen=True)
class Result:
    """What came out of one of the ten; `seen` are the kiosk's own words for it."""

    task: Task
    is_as_expected: bool
    seen: tuple[str, ...]


def results(kit: Kit, pages: Sequence[Page]) -> list[Result]:
    """Return the results of the tasks done so far, in order; the next task is the one after the last result."""
    found: list[Result] = []
    at = 0
    for task in Task:
        tried = _tried(task, kit, pages, at)
        if tried is None:
            break
        at, result = tried
        found.append(result)
    return found


def _tried(task: Task, kit: Kit, pages: Sequence[Page], at: int) -> tuple[int, Result] | None:
    """Return what decides a task among the pages from place `at` on, with the place after it."""
    for place in range(at, len(pages)):
        act = pages[place].act
        if task is Task.WRONG_THREAD:
            if isinstance(act, Refusal) and act.by_rule is not None:
                return place + 1, Result(task, act.by_rule == "X19", (act.by_rule,))
            if isinstance(act, GaugeScan | Reading) and act.gauge == kit.wrong_ring.number:
                return place + 1, Result(task, False, (type(act).__name__,))
        elif isinstance(act, Reading) and _is_try(task, kit, act, pages[at:place]):
            return place + 1, Result(task, _is_right(task, kit, act, pages[:place], at), (act.verdict, act.standing))
    return None


def _is_try(task: Task, kit: Kit, act: Reading, before: Sequence[Page]) -> bool:
    """True when a reading is what somebody did for a task, whatever came out of it."""
    if task is Task.ACCEPT:
        return act.characteristic == kit.threaded.number and act.gauge == kit.ring.number
    if act.characteristic != kit.sized.number:
        return False
    if task is Task.PAST_DUE:
        return act.gauge == kit.past_due.number
    if act.gauge != kit.gauge.number:
        return False
    acts = [page.act for page in before]
    if task is Task.POWER:
        return any(isinstance(one, PowerOn) for one in acts)
    if task is Task.DROPPED:
        return any(isinstance(one, GaugeIncident) and one.gauge == kit.gauge.number for one in acts)
    if task in (Task.DECIMAL_SLIP, Task.UNIT_SLIP):
        slip = kit.decimal_slip if task is Task.DECIMAL_SLIP else kit.unit_slip
        return any(_is(text, slip) for text in (act.keyed, *(one.text for one in act.earlier)))
    return _is(act.keyed, {Task.IN: kit.middle, Task.OUT: kit.outside, Task.LIMIT: kit.at_limit}[task])


def _is_right(task: Task, kit: Kit, act: Reading, before: Sequence[Page], at: int) -> bool:
    """True when the kiosk answered as it should."""
    acts = [page.act for page in before[at:]]
    counts = act.standing is Standing.COUNTS and not act.reasons
    is_value_kept = act.value is None or _is(act.value, act.keyed)
    match task:
        case Task.OUT:
            return is_value_kept and act.verdict is Verdict.OUT
        case Task.DECIMAL_SLIP | Task.UNIT_SLIP:
            asked = any(isinstance(one, AskedAgain) for one in acts)
            right = kit.middle if task is Task.DECIMAL_SLIP else kit.low
            return asked and bool(act.earlier) and act.verdict is Verdict.IN and _is(act.keyed, right)
        case Task.POWER:
            last = next((one.act for one in reversed(before) if isinstance(one.act, Reading)), None)
            goes_on = last is not None and (last.characteristic, last.sample) == (act.characteristic, act.sample)
            return goes_on and last is not None and act.piece == last.piece + 1 and act.verdict is Verdict.IN
        case Task.PAST_DUE:
            warned = any(isinstance(one, GaugeScan) and "X01" in one.told for one in acts)
            return warned and act.standing is Standing.BLOCKED and "X01" in act.reasons
        case Task.ACCEPT:
            return counts and act.verdict is Verdict.ACCEPT
        case Task.DROPPED:
            return act.standing is not Standing.COUNTS and "X05" in act.reasons
        case _:
            return is_value_kept and counts and act.verdict is Verdict.IN


def _is(text: str, figure: str) -> bool:
    try:
        return Decimal(text.replace(",", ".")) == Decimal(figure)
    except InvalidOperation:
        return False
