"""Limits by name: what a plan means by "pitch diameter of .3125-24 UNJF-3A".

Owns the few names of a thread's features and which limits they stand for.
Knows nothing of plans or lists; they ask here and show the derivation to the two people who approve.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from kiosk.errors import ThreadNotUnderstood
from kiosk.threads.designations import parse_designation, thread_limits
from kiosk.threads.forms import Limits, Thread, ThreadLimits

FEATURES = ("pitch diameter", "major diameter", "minor diameter", "root radius")
"""The features of a thread that a standard limits, by their names on a drawing."""

_WORDS = re.compile(r"\s*(?P<feature>[a-z]+ [a-z]+) of (?P<thread>\S.*)", re.IGNORECASE)


@dataclass(frozen=True)
class Characteristic:
    """A feature of a thread with its limits, their unit, the standard, and how they were reached."""

    feature: str
    thread: Thread
    limits: Limits
    unit: str
    standard: str
    derivation: tuple[str, ...]


def characteristic_limits(words: str) -> Characteristic:
    """Give the limits a plan names in words, for example `pitch diameter of .3125-24 UNJF-3A`.

    Raises:
        ThreadNotUnderstood: the words name no feature, or one this thread's standard does not limit.
        OutsideTheTable: the standard has no such size or class.
    """
    match = _WORDS.fullmatch(words)
    feature = match["feature"].lower() if match else ""
    if match is None or feature not in FEATURES:
        raise _refuse(words, f"It is not one of {', '.join(FEATURES)}, then `of`, then a thread.")
    found = thread_limits(match["thread"])
    limits = _limits_of(found, feature)
    if limits.lower is None and limits.upper is None:
        raise _refuse(words, f"{found.standard} sets no limit to the {feature} of this thread.")
    return Characteristic(feature, found.thread, limits, found.thread.unit, found.standard, found.derivation)


def _limits_of(found: ThreadLimits, feature: str) -> Limits:
    by_feature = {
        "pitch diameter": found.pitch,
        "major diameter": found.major,
        "minor diameter": found.minor,
        "root radius": found.root_radius,
    }
    return by_feature[feature]


def is_same_thread(one: str, other: str) -> bool:
    """True when two designations, however spelled, name one thread: form, size, pitch, class, hand and length.

    `5/16-24 UNJF-3A` and `.3125-24 UNJF-3A` are one; UN and UNJ, 2A and 3A, left and right hand are not.

    Raises:
        ThreadNotUnderstood: one of them could not be read.
    """
    return _identity(parse_designation(one)) == _identity(parse_designation(other))


def _identity(thread: Thread) -> tuple[str | bool | Decimal | None, ...]:
    return (
        thread.form,
        thread.diameter,
        thread.pitch,
        thread.pitch_class,
        thread.crest_class,
        thread.is_left_hand,
        thread.engagement,
        thread.engagement_group,
    )


def _refuse(words: str, why: str) -> ThreadNotUnderstood:
    return ThreadNotUnderstood(
        f"The characteristic {words[:80]!r} was not understood.",
        why=why,
        next_step="Write it like this: pitch diameter of .3125-24 UNJF-3A; or write the limits of the drawing.",
    )
