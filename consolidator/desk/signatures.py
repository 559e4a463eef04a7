"""Signing at the desk: badge and PIN under a sentence, bound to what was shown; and what a second person must see.

Owns making a signature and the evidence a second signer looks at. Who may sign what stands in `consolidator.authority`.
"""

import hashlib
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import rfc8785

from consolidator.desk.held_pages import HeldAct, HeldPages
from kiosk.lists.words import Level
from kiosk.pages import Act, Signature, fingerprint_to_sign, is_bound
from kiosk.pages.desk import SecondSignature
from kiosk.pages.station import Refusal
from kiosk.pages.words import Meaning

__all__ = ["Evidence", "Seen", "Signer", "evidence_about", "fingerprint_to_sign", "is_bound", "make_signature"]


@dataclass(frozen=True)
class Signer:
    """Who signs: the badge scanned (or the person's number), the PIN just keyed, and the role, if one is chosen."""

    badge: str
    pin: str
    role: Level | None = None

    def __repr__(self) -> str:
        """Say whose it is; never the PIN."""
        return f"Signer({self.badge!r})"


@dataclass(frozen=True)
class Person:
    """A person of the plant as he signs: number, name as shown, role at that minute."""

    number: str
    name: str
    role: str


@dataclass(frozen=True)
class Evidence:
    """What a second signer must see: the proposal, the pages it names, and those that name it or them since."""

    of: str
    pages: tuple[HeldAct, ...]
    fingerprint: str


@dataclass(frozen=True)
class Seen:
    """What the screen says the second signer saw: the fingerprint of the evidence, and that he came to its end."""

    evidence: str
    to_its_end: bool


def make_signature(person: Person, sentence: str, meaning: Meaning, *, of: str, at: str) -> Signature:
    """Return the signature of a person whose PIN was checked just now."""
    return Signature(
        person=person.number, name=person.name, role=person.role, at=at, meaning=meaning, sentence=sentence, of=of
    )


def evidence_about(
    proposal: HeldAct, held: HeldPages, acts_naming: Callable[[Collection[str]], Iterable[HeldAct]]
) -> Evidence:
    """Return what is to be seen before `proposal` is signed by a second person.

    Its fingerprint changes with every page that comes to the matter, so that nobody signs what he has not seen.
    """
    named = [found for ref in _refs_in(proposal.page.act) if (found := held.page(ref)) is not None]
    about = {proposal.page.ref, *(each.page.ref for each in named)}
    since = [each for each in acts_naming(about) if _is_about(each, about) and each.page.ref not in about]
    measured = [again for each in named for again in held.re_measures(each.page.ref)]
    pages = {each.page.ref: each for each in (proposal, *named, *since, *measured)}
    prints = sorted(each.fingerprint for each in pages.values())
    joined = hashlib.sha256(rfc8785.dumps(prints)).hexdigest()
    return Evidence(proposal.page.ref, tuple(pages.values()), joined)


def _is_about(held: HeldAct, refs: set[str]) -> bool:
    # A refused try and the signature itself are no evidence on the matter.
    if isinstance(held.page.act, Refusal | SecondSignature):
        return False
    return not refs.isdisjoint(_refs_in(held.page.act))


def _refs_in(act: Act) -> Iterator[str]:
    """Yield the pages an act names; the evidence of an extension is told in words."""
    told: dict[str, Any] = {name: getattr(act, name, None) for name in _NAMING}
    for value in told.values():
        named = (value,) if isinstance(value, str) else value if isinstance(value, tuple) else ()
        yield from (each for each in named if _PAGE.fullmatch(each))


_PAGE = re.compile(r"[A-Za-z0-9][A-Za-z0-9.-]*/[1-9]\d*", re.ASCII)
_NAMING = ("of", "about", "re_measure_of", "readings", "evidence")
"""Fields of acts that hold names of pages."""
