"""The sentence a station says for each reason against a reading.

They are read by an operator in gloves, in noise, at three in the morning; those that block begin with STOP.
Must not know when a sentence is said.
"""

from collections.abc import Iterable

from kiosk.said import Said, say

__all__ = ["Said", "say", "warnings_of"]


def warnings_of(reasons: Iterable[str], gauge: str) -> tuple[Said, ...]:
    """Return the sentence for each reason that wants one, those that say STOP first, each in order of number."""
    said = _sentences(gauge or say("the gauge"))
    told = [said[reason] for reason in sorted(reasons) if reason in said]
    return tuple(sorted(told, key=lambda sentence: not sentence.startswith("STOP")))


def _sentences(gauge: str) -> dict[str, Said]:
    return {**_of_gauge(gauge), **_of_work()}


def _of_gauge(gauge: str) -> dict[str, Said]:
    return {
        "X01": say("STOP. {gauge} is past its due date. Readings with it do not count.", gauge=gauge),
        "X02": say("{gauge} goes out before this shift ends.", gauge=gauge),
        "X03": say("STOP. {gauge} is not in the register. Readings with it do not count.", gauge=gauge),
        "X04": say("STOP. {gauge} is out of use. Readings with it do not count.", gauge=gauge),
        "X05": say("STOP. {gauge} was dropped or knocked and not checked since.", gauge=gauge),
        "X10": say("STOP. Zero {gauge} on its master first: no zero check by you this shift.", gauge=gauge),
        "X11": say("The zero check of {gauge} is late. Check it now.", gauge=gauge),
        "X12": say("STOP. The last zero check of {gauge} failed. Zero it and check again.", gauge=gauge),
        "X13": say("{gauge} belongs to another station. That is noted.", gauge=gauge),
        "X15": say("{gauge} is coarse for this. Readings with it are flagged.", gauge=gauge),
        "X16": say("STOP. {gauge} is too coarse for this. Readings with it do not count.", gauge=gauge),
        "X17": say("STOP. This is outside the range of {gauge}. It does not count.", gauge=gauge),
        "X18": say("STOP. The plan does not allow this kind of gauge here.", gauge=gauge),
        "X19": say("STOP. {gauge} or its wires do not fit this thread. Readings do not count.", gauge=gauge),
        "X20": say("That is finer than {gauge} can read. It is flagged.", gauge=gauge),
        "X60": say("STOP. {gauge} has no good day check today. Check it on its block first.", gauge=gauge),
    }


def _of_work() -> dict[str, Said]:
    return {
        "X24": say("Over the shop's own limit. Adjust, and write down what you did."),
        "X25": say("Close to the limit."),
        "X33": say("STOP. The same reading came twice at once. The second does not count."),
        "X44": say("STOP. This lot is not on the lists here. QC has to settle it."),
        "X45": say("STOP. This lot is of another part. Check the label on the tote."),
        "X53": say("STOP. The first piece is not approved. Run no pieces; what was run is set apart."),
        "X58": say("STOP. Too hot to measure. Let it cool and measure this piece again."),
        "X59": say("Nobody wrote when it came out of heat. Measure its temperature."),
        "X62": say("STOP. A rolled thread is never worked again. Scrap it with a witness."),
        "X65": say("STOP. You are not on the list for this work. A trainer must countersign in this sample."),
        "X66": say("Your qualification for this work has run out. Tell the lead."),
        "X75": say("The lists here are more than three days old. It is judged again later."),
        "X78": say("Keyed from paper. Keep the form: it is the original."),
    }
