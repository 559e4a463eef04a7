"""What is found of due dates and of second signatures (X69, X82, X83)."""

from kiosk.lists.words import GaugeState, Level
from kiosk.pages import Act
from kiosk.pages.desk import (
    Calibration,
    Disposition,
    ExceptionClose,
    Extension,
    HoldLift,
    LookBackWindow,
    LotClose,
    PagesLost,
    Release,
    Seal,
    SecondSignature,
)
from kiosk.pages.readings import Check, Correction
from kiosk.pages.station import GaugeMovement, GaugeScan
from tests.oracle.authority import QUALITY, has_level, seconds_of
from tests.oracle.gauges import GaugeStory, end_of_due
from tests.oracle.night import ActAt, Night
from tests.oracle.samples import Named
from tests.oracle.times import text_ms

_INSPECTION = QUALITY | {Level.INSPECTOR}
_MAY_SIGN_SECOND: dict[type[Act], frozenset[Level]] = {
    **dict.fromkeys((Release, Disposition, HoldLift, LotClose, PagesLost, Extension, LookBackWindow), QUALITY),
    ExceptionClose: QUALITY,
    Correction: _INSPECTION,
    Seal: QUALITY | {Level.SEALER},
}


def not_brought_in(night: Night) -> Named:
    """X82: a due date ended in the day while the gauge was in use and nobody had brought it in."""
    found = set()
    for number in {row.number for row in night.lists.gauges}:
        story = GaugeStory(night, number)
        for end in story.ends:
            if not night.start_ms < end <= min(night.end_ms, night.at_ms):
                continue
            due = story.due_at(end - 1)
            is_standing = due is not None and due[1] == end and story.due_at(end) == due
            if is_standing and story.state_at(end - 1) == GaugeState.IN_USE and not _is_away(night, number, end):
                found.add(("X82", number))
    return found


def _is_away(night: Night, gauge: str, ms: int) -> bool:
    """True when the last that was seen of a gauge is that it was given back or sent out, or found on the bench."""
    seen = [(r.ms, False) for r in night.readings if r.row["gauge"] == gauge]
    for act in night.acts:
        what = act.page.act
        if isinstance(what, GaugeMovement) and what.movement in ("returned", "sent out", "issued", "borrowed"):
            seen += [(act.ms, what.movement in ("returned", "sent out"))] if what.gauge == gauge else []
        elif isinstance(what, Calibration) and what.gauge == gauge:
            seen.append((max(act.ms, text_ms(what.done_at)), what.stage == "as-found"))
        elif isinstance(what, Check | GaugeScan) and what.gauge == gauge:
            seen.append((act.ms, False))
    return max((each for each in seen if each[0] < ms), default=(0, False))[1]


def late_extensions(night: Night) -> Named:
    """X83: asked for, or signed second, when the due date had ended; told on the day of that page."""
    found = set()
    for act, extension in night.of(Extension):
        end = end_of_due(night, extension.old_due)
        late = [each for each in (act, *seconds_of(night, act)) if each.ms >= end]
        if any(night.is_today(each.ms) for each in late):
            found.add(("X83", extension.gauge))
    return found


def void_seconds(night: Night) -> Named:
    """X69: a second signature of this day by whoever proposed, who took the reading, or who may not sign it."""
    found = set()
    for act, second in night.of(SecondSignature):
        proposals = [each for each in night.acts if each.page.ref == second.of]
        if night.is_today(act.ms) and any(not _may_second(night, act, proposal) for proposal in proposals):
            found.add(("X69", act.page.station))
    return found


def _may_second(night: Night, act: ActAt, proposal: ActAt) -> bool:
    levels = _MAY_SIGN_SECOND.get(type(proposal.page.act))
    if levels is None:
        return True
    about = [r for r in night.readings if r.ref in _about(proposal.page.act)]
    takers = {r.taker for r in about}
    if act.signer == proposal.signer or act.signer in takers:
        return False
    # A correction takes authority for the operation of the reading, as its effect does (decision 0131).
    operation = about[0].row["operation"] if isinstance(proposal.page.act, Correction) and about else None
    return has_level(night, act.signer, levels, act.ms, operation)


def _about(act: Act) -> tuple[str, ...]:
    if isinstance(act, Correction):
        return (act.of,)
    return act.readings if isinstance(act, Release | Disposition) else ()
