"""Who a badge belongs to, what that person is qualified as at a minute, and whether he may sign as the second.

Owns these questions as pure functions of the lists. PINs are looked at elsewhere.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from kiosk.lists import Lists, Person, Qualification
from kiosk.lists.words import Level
from kiosk.times import read_time


@dataclass(frozen=True)
class Proposal:
    """What a second person is asked to sign: who proposed it, when, and who took the readings it is about."""

    person: str | None
    at: datetime
    takers: frozenset[str] = frozenset()


@dataclass(frozen=True)
class SecondSigner:
    """Who would sign second, and when; `role` is none when he is not authorised at that minute."""

    person: str
    at: datetime
    role: Level | None


def person_of(badge_or_number: str, lists: Lists) -> Person | None:
    """Return the person with that number, or to whom that badge was given; none when nobody has it."""
    found = lists.person(badge_or_number)
    if found is not None:
        return found
    return next((person for person in lists.people if badge_or_number in person.badges), None)


def has_left(person: Person, at: datetime) -> bool:
    """True when the person had left the plant by `at`."""
    return person.left_at is not None and read_time(person.left_at) <= at


def levels_at(
    person: str, lists: Lists, at: datetime, *, operation: str | None = None, gauge_kind: str | None = None
) -> frozenset[Level]:
    """Return what a person is qualified as at the minute `at`.

    With an operation or gauge kind, rows for it and rows for all count; without an operation only rows for all do.
    """
    known = lists.person(person)
    if known is None or has_left(known, at):
        return frozenset()
    return frozenset(
        row.level
        for row in lists.qualifications
        if row.person == person
        and row.operation in ("*", operation)
        and (gauge_kind is None or row.gauge_kind in ("*", gauge_kind))
        and _is_valid(row, at, ZoneInfo(lists.zone))
    )


def role_for(wanted: Iterable[Level], held: frozenset[Level]) -> Level | None:
    """Return the first of the wanted levels that is held; none when none is."""
    return next((level for level in wanted if level in held), None)


def why_not_second(second: SecondSigner, proposal: Proposal) -> str:
    """Say why this person's second signature does not stand (X69); empty when it does.

    A second signer is a different person, whatever the badge, authorised at that minute, has not taken the readings,
    did not enter the proposal, and signs after it.
    """
    if second.person == proposal.person:
        return f"{second.person} entered the proposal; the second signature must be another person's"
    if second.person in proposal.takers:
        return f"{second.person} took the reading"
    if second.role is None:
        return f"{second.person} is not authorised for it at that minute"
    if second.at < proposal.at:
        return "it would be dated before what it signs"
    return ""


def _is_valid(row: Qualification, at: datetime, zone: ZoneInfo) -> bool:
    today = at.astimezone(zone).date()
    is_known = row.in_force_from is None or read_time(row.in_force_from) <= at
    return is_known and row.valid_from <= today and (row.valid_until is None or today <= row.valid_until)
