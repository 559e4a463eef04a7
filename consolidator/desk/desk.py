"""The desk: who stands at it, keeping acts as pages of its own book, signing, and refusing with a page.

Owns what every act of the desk has in common. What each act asks stands in the module of its family.
"""

import threading
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any, Protocol, TypeVar

from pydantic import ValidationError

from consolidator.authority import (
    AUTHORITIES,
    Deed,
    Proposal,
    SecondSigner,
    levels_at,
    person_of,
    role_for,
    why_not_second,
)
from consolidator.authority.signers import has_left
from consolidator.desk.held_pages import HeldAct, HeldPages, chosen
from consolidator.desk.signatures import Evidence, Person, Seen, Signer, evidence_about, make_signature
from consolidator.errors import DeskRefused
from consolidator.pins import PinStore
from consolidator.settings import Settings
from kiosk.lists import Lists
from kiosk.lists.words import Level
from kiosk.pages import Act, Page, canonical_bytes, fingerprint, fingerprint_to_sign
from kiosk.pages.desk import SecondSignature
from kiosk.pages.readings import Reading
from kiosk.pages.station import Refusal
from kiosk.pages.words import Meaning
from kiosk.ports import Clock
from kiosk.times import in_zone, read_time, write_time

AnActKind = TypeVar("AnActKind", bound=Act)
_LONGEST_WORDS = 2_000


class DeskBook(Protocol):
    """What the desk needs of its own numbered book."""

    @property
    def series(self) -> str:
        """The name of the book."""
        ...

    @property
    def head(self) -> str:
        """Fingerprint of the last page."""
        ...

    def keep(self, act: Act, *, person: str | None, lists_version: int = 0, lists_taken_at: str | None = None) -> Page:
        """Keep one act as the next page."""
        ...

    def page(self, number: int) -> Page:
        """Return one page."""
        ...

    def pages(self, first: int = 1) -> Iterator[tuple[Page, bytes]]:
        """Yield every page from `first` on with its bytes."""
        ...


@dataclass(frozen=True)
class Second:
    """A second person who signs at once, and what he saw before."""

    signer: Signer
    seen: Seen


@dataclass(frozen=True)
class Done:
    """An act that was kept: its pages, the act's own first, and what the screen must say with it."""

    pages: tuple[Page, ...]
    notes: tuple[str, ...] = ()

    @property
    def page(self) -> Page:
        """The page of the act itself."""
        return self.pages[0]


@dataclass(frozen=True)
class Desk:
    """One desk, open: its book, the plant's lists as they are in force, people's PINs, and the plant's pages.

    Cheap to make; make a new one when new lists are taken over.
    """

    book: DeskBook
    lists: Lists
    clock: Clock
    zone: tzinfo
    pins: PinStore
    held: HeldPages
    settings: Settings = field(default_factory=Settings)
    gate: threading.RLock = field(default_factory=threading.RLock, repr=False)
    _read: dict[int, tuple[HeldAct, bytes]] = field(default_factory=dict, repr=False)
    """Own pages read so far, by number; a page never changes."""

    def now(self) -> datetime:
        """Return the time in the plant's zone."""
        return in_zone(self.clock.now(), self.zone)

    def keep(self, act: Act, by: str | None) -> Page:
        """Keep an act as the next page of the desk's book; on the disk before this returns."""
        lists = self.lists
        return self.book.keep(act, person=by, lists_version=lists.version, lists_taken_at=lists.taken_over_at)

    def page(self, ref: str) -> HeldAct | None:
        """Return a page of the plant or of this desk."""
        series, _, number = ref.rpartition("/")
        if series != self.book.series:
            return self.held.page(ref)
        own = self._own().get(int(number))
        return self.held.page(ref) if own is None else own[0]

    def acts(self, *kinds: type[Act], naming: Collection[str] = ()) -> list[HeldAct]:
        """Return acts of the plant that are no readings, oldest first, this desk's newest among them.

        Of some kinds only, if any are given; and only those in which any of the names stands, if any is given.
        """
        own = chosen(self._own().values(), kinds, naming)
        found = {each.page.ref: each for each in (*self.held.acts(kinds, naming), *own)}
        return sorted(found.values(), key=lambda each: (each.at, each.page.series, each.page.number))

    def acts_of(self, kind: type[AnActKind], naming: Collection[str] = ()) -> list[tuple[HeldAct, AnActKind]]:
        """Return the acts of one kind with their pages, oldest first."""
        return [(each, each.page.act) for each in self.acts(kind, naming=naming) if isinstance(each.page.act, kind)]

    def _own(self) -> dict[int, tuple[HeldAct, bytes]]:
        """Return the pages in the desk's own book, taken in or not, by number."""
        with self.gate:
            for page, content in self.book.pages(max(self._read, default=0) + 1):
                self._read[page.number] = (HeldAct(page, fingerprint(content)), content)
        return self._read

    def make(self, what: str, kind: type[AnActKind], told: Mapping[str, Any]) -> AnActKind:
        """Return an act made of what was told.

        Raises:
            DeskRefused: a field is missing, too long, or not what it must be.
        """
        try:
            return kind.model_validate(dict(told))
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            where = ".".join(str(step) for step in first["loc"]).replace("_", " ") or "the whole"
            raise DeskRefused(
                what, why=f"{where}: {first['msg']}.", next_step="Put that right and try again."
            ) from error

    @contextmanager
    def refusals_kept(self, badge: str | None) -> Iterator[None]:
        """Keep every refusal inside as a page, with what, why and the next step, and let it go on.

        Acts inside are one after another: nobody else's page comes between a signature and its own page.
        """
        with self.gate:
            try:
                yield
            except DeskRefused as refused:
                person = None if badge is None else person_of(badge, self.lists)
                act = Refusal(
                    what=refused.what[:_LONGEST_WORDS],
                    why=refused.why[:_LONGEST_WORDS],
                    next_step=refused.next_step[:_LONGEST_WORDS],
                    by_rule=refused.by_rule,
                )
                self.keep(act, None if person is None else person.number)
                raise

    def allowed(
        self,
        deed: Deed,
        badge: str,
        *,
        operation: str | None = None,
        gauge_kind: str | None = None,
        levels: tuple[Level, ...] | None = None,
    ) -> Person:
        """Return the person at the desk in the role in which he may do a deed; `levels` where they hang on the case.

        Raises:
            DeskRefused: nobody has that badge, he has left, or he is not qualified for it at this minute.
        """
        wanted = AUTHORITIES[deed].first if levels is None else levels
        return self._in_role(deed, Signer(badge, ""), wanted, operation, gauge_kind)

    def identified(
        self,
        deed: Deed,
        signer: Signer,
        *,
        operation: str | None = None,
        gauge_kind: str | None = None,
        levels: tuple[Level, ...] | None = None,
    ) -> Person:
        """Return the person as `allowed` does, with his PIN checked.

        Raises:
            PinRefused: the PIN is wrong or locked, or there is none.
            DeskRefused: he may not do it.
        """
        self.pins.check(self.known(signer.badge).number, signer.pin)
        wanted = AUTHORITIES[deed].first if levels is None else levels
        return self._in_role(deed, signer, wanted, operation, gauge_kind)

    def known(self, badge: str) -> Person:
        """Return the person with that badge or number, whatever he may do.

        Raises:
            DeskRefused: nobody has it, or he has left.
        """
        person = person_of(badge, self.lists)
        if person is None or has_left(person, self.now()):
            why = "Nobody of the plant has that badge." if person is None else f"{person.number} has left the plant."
            raise DeskRefused(f"Badge {badge} not taken.", why=why, next_step="Scan your own badge.")
        return Person(person.number, person.name, "person of the plant")

    def keep_signed(self, act: Act, person: Person, sentence: str, meaning: Meaning) -> Page:
        """Sign an act in the name of a person whose PIN was checked, and keep it."""
        of = fingerprint_to_sign(act, self.book.head)
        signature = make_signature(person, sentence[:_LONGEST_WORDS], meaning, of=of, at=write_time(self.now()))
        return self.keep(act.model_copy(update={"signature": signature}), person.number)

    def evidence(self, ref: str) -> Evidence:
        """Return what a second signer of page `ref` must see, with the fingerprint he then signs by.

        Raises:
            DeskRefused: the page is not held.
        """
        proposal = self.page(ref)
        if proposal is None:
            raise DeskRefused(f"Page {ref} not shown.", why="It is not held here.", next_step="Look up its name again.")
        return evidence_about(proposal, self.held, lambda refs: self.acts(naming=refs))

    def second_person(
        self, deed: Deed, second: Second, proposal: Proposal, *, shown: str, operation: str | None = None
    ) -> Person:
        """Return a person who may sign second, with his PIN checked and the evidence (fingerprint `shown`) seen.

        Raises:
            PinRefused: his PIN is wrong or locked, or there is none.
            DeskRefused: X69, or he has not seen the evidence as it stands.
        """
        known = self.known(second.signer.badge)
        self.pins.check(known.number, second.signer.pin)
        now = self.now()
        held = levels_at(known.number, self.lists, now, operation=operation)
        role = role_for(AUTHORITIES[deed].second, held)
        why = why_not_second(SecondSigner(known.number, now, role), proposal)
        if why:
            raise DeskRefused(
                f"Second signature not set, to {deed} (X69).",
                why=f"{why[0].upper()}{why[1:]}.",
                next_step="Let a different person sign who is authorised for it and did not take the reading.",
                by_rule="X69",
            )
        _check_seen(second.seen, shown)
        assert role is not None
        return Person(known.number, known.name, role.value)

    def keep_second(self, of: Page, person: Person, sentence: str, meaning: Meaning) -> Page:
        """Keep the second signature under page `of`, bound to the fingerprint of that page."""
        signature = make_signature(
            person,
            sentence[:_LONGEST_WORDS],
            meaning,
            of=fingerprint(canonical_bytes(of)),
            at=write_time(self.now()),
        )
        return self.keep(SecondSignature(of=of.ref, meaning=meaning, signature=signature), person.number)

    def takers(self, refs: tuple[str, ...]) -> frozenset[str]:
        """Return who took the readings named: who measured, and who keyed it from paper."""
        found: set[str] = set()
        for ref in refs:
            held = self.page(ref)
            if held is not None and isinstance(held.page.act, Reading):
                found |= {who for who in (held.page.person, held.page.act.taken_by) if who is not None}
        return frozenset(found)

    def moment(self, text: str | None) -> datetime:
        """Return a time told, or now when none is told.

        Raises:
            DeskRefused: it is no time, or lies ahead.
        """
        now = self.now()
        if text is None:
            return now
        try:
            told = in_zone(read_time(text), self.zone)
        except (ValueError, TypeError) as error:
            raise DeskRefused("Not kept.", why=f"'{text}' is no time.", next_step="Give it with its offset.") from error
        if told > now:
            raise DeskRefused(
                "Not kept.", why=f"{text} lies ahead; it is {write_time(now)}.", next_step="Give the time it was done."
            )
        return told

    def _in_role(
        self, deed: Deed, signer: Signer, wanted: tuple[Level, ...], operation: str | None, gauge_kind: str | None
    ) -> Person:
        known = self.known(signer.badge)
        if not wanted:
            return known
        held = levels_at(known.number, self.lists, self.now(), operation=operation, gauge_kind=gauge_kind)
        role = role_for(wanted if signer.role is None else (signer.role,), held & set(wanted))
        if role is None:
            allowed = ", ".join(wanted)
            raise DeskRefused(
                f"{known.number} may not {deed}.",
                why=f"{known.number} is not qualified for it at this minute; it takes one of: {allowed}.",
                next_step="Let somebody do it who is, or take over lists that say so.",
            )
        return Person(known.number, known.name, role.value)


def _check_seen(seen: Seen, shown: str) -> None:
    if not seen.to_its_end:
        raise DeskRefused(
            "Second signature not set.",
            why="The evidence was not seen to its end.",
            next_step="Go through the evidence to its end, then sign.",
        )
    if seen.evidence != shown:
        raise DeskRefused(
            "Second signature not set.",
            why="The record changed since it was shown.",
            next_step="Look at the evidence as it stands now, then sign.",
        )


def says_something(words: str, settings: Settings) -> bool:
    """True when words give a reason: enough letters, and more than one of them said over and over."""
    letters = [letter.lower() for letter in words if letter.isalpha()]
    return len(letters) >= settings.reason_least_letters and len(set(letters)) >= settings.reason_least_letters // 2


def check_reason(what: str, words: str, settings: Settings) -> None:
    """Return when the reason says something.

    Raises:
        DeskRefused: it does not.
    """
    if not says_something(words, settings):
        raise DeskRefused(
            what,
            why=f"The reason '{words[:40]}' says nothing that somebody else could act on.",
            next_step="Write what was found and what was done, in a sentence.",
        )
