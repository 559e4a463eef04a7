"""Sealing: a book is fixed for good, with the word that says how whole it is, and the seal before it in its own.

Owns the word, who may seal, the order of sealing and the chain of seals. The page of the act is kept by the caller.
Must not know how the book was made.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from consolidator.authority import AUTHORITIES, Deed, levels_at, role_for
from consolidator.errors import SealRefused
from consolidator.ledger.books import runs_of
from consolidator.ledger.check_ledger import FORMAT, canonical, fingerprint
from consolidator.ledger.folder import SEAL_FILE, SEALED, BookFolder, days_in, mended, open_book, pretty, supplements_of
from consolidator.ledger.front_sheet import count
from kiosk.lists import Lists
from kiosk.lists.words import Level
from kiosk.pages import Signature
from kiosk.pages.desk import PagesLost, Seal
from kiosk.pages.words import Meaning, SealWord
from kiosk.ports import SyncedDisk
from kiosk.times import day_bounds_utc, read_time, write_time

_MAY: Final = AUTHORITIES[Deed.SEAL]


@dataclass(frozen=True)
class Sealing:
    """Who seals, when, and what the plant knows of its people and of pages declared lost."""

    by: str
    second: str | None
    at: datetime
    """Aware; it is written in plant local time."""
    lists: Lists
    lost: tuple[PagesLost, ...] = ()


def seal_word(book: BookFolder, lost: Iterable[PagesLost] = ()) -> tuple[SealWord, str]:
    """Return how whole a book is, and in words what is missing from it; '' when it is Complete.

    A silent kiosk or a missing page that nobody declared lost makes it Incomplete.
    """
    if book.supplement:
        return SealWord.COMPLETE, ""
    lost = tuple(lost)
    silent: list[str] = []
    missing: list[str] = []
    declared: list[str] = []
    for row in book.table("kiosks").to_pylist():
        if row["state"] == "silent":
            silent.append(f"{row['station']} ({row['kiosk']})")
        gone = [int(number) for number in row["missing"].split(";") if number]
        known = {number for number in gone if _is_lost(row["kiosk"], number, lost)}
        missing += _named(row["kiosk"], [number for number in gone if number not in known])
        declared += _named(row["kiosk"], sorted(known))
    words = [f"kiosks not heard from: {', '.join(silent)}"] if silent else []
    words += [f"pages missing: {', '.join(missing)}"] if missing else []
    words += [f"pages declared lost: {', '.join(declared)}"] if declared else []
    if silent or missing:
        return SealWord.INCOMPLETE, "; ".join(words)
    return (SealWord.EXCEPT_LOST if declared else SealWord.COMPLETE), "; ".join(words)


def sealed_as(seal: Mapping[str, Any]) -> str:
    """Return the word of a seal as it is printed on page one, with what is missing."""
    return f"{seal['word']} – {seal['words']}" if seal["words"] else str(seal["word"])


def seal_book(ledger: Path, day: date, supplement: int, sealing: Sealing, key: Ed25519PrivateKey) -> Seal:
    """Seal a book for good and return the act; the caller holds the lock and keeps the act as a page.

    Sealing again what is sealed with the same people returns the same act, so that a cut between the two is mended.

    Raises:
        SealRefused: the day is not over, another must be sealed first, or a person may not sign this.
    """
    book = mended(ledger, day, supplement)
    if book.is_sealed:
        raise _refused(
            book, "It is sealed already.", "Nothing is to be done; `consolidator front-sheet` shows the seal."
        )
    _check_turn(ledger, book, ZoneInfo(sealing.lists.zone))
    word, words = seal_word(book, sealing.lost)
    seal = _make_seal(ledger, book, sealing, (word, words))
    _check_people(book, sealing, word, words)
    signed = {
        "state": SEALED,
        "seal": seal,
        "fingerprint": fingerprint(seal),
        "key": key.public_key().public_bytes_raw().hex(),
        "signature": key.sign(canonical(seal)).hex(),
    }
    SyncedDisk().replace_synced(book.path / SEAL_FILE, pretty(dict(book.seal_file) | signed))
    return seal_act(open_book(ledger, day, supplement))


def seal_act(book: BookFolder) -> Seal:
    """Return the act of a sealed book, as the desk keeps it."""
    seal = book.seal_file["seal"]
    person = seal["sealed_by"]
    return Seal(
        day=book.day,
        supplement=book.supplement,
        word=SealWord(seal["word"]),
        words=seal["words"],
        ledger=seal["ledger"],
        before=seal["before"],
        signature=Signature(
            person=person["person"],
            name=person["name"],
            role=person["role"],
            at=seal["sealed_at"],
            meaning=Meaning.SEALED,
            sentence=_sentence(seal),
            of=seal["ledger"],
        ),
    )


def sealed_books(ledger: Path) -> list[BookFolder]:
    """Return every sealed book, in the order of sealing."""
    books = [book for day in days_in(ledger) for book in (open_book(ledger, day), *supplements_of(ledger, day))]
    return sorted((book for book in books if book.is_sealed), key=lambda book: int(book.seal_file["seal"]["number"]))


def chain_of(books: Iterable[BookFolder]) -> list[dict[str, Any]]:
    """Return what a check of the chain needs of each sealed book."""
    return [{name: book.seal_file[name] for name in ("seal", "fingerprint", "key", "signature")} for book in books]


def _make_seal(ledger: Path, book: BookFolder, sealing: Sealing, word: tuple[SealWord, str]) -> dict[str, Any]:
    before = sealed_books(ledger)[-1:]
    body = book.body
    return {
        "format": FORMAT,
        "plant": body["plant"],
        "day": body["day"],
        "supplement": body["supplement"],
        "number": before[0].seal_file["seal"]["number"] + 1 if before else 1,
        "ledger": book.seal_file["ledger"],
        "before": before[0].seal_file["fingerprint"] if before else None,
        "word": word[0].value,
        "words": word[1],
        "pages": body["totals"]["pages"],
        "lots": body["tables"]["lots"]["rows"],
        "sealed_at": write_time(sealing.at.astimezone(ZoneInfo(sealing.lists.zone))),
        "sealed_by": _person(book, sealing, sealing.by, _MAY.first),
        "second": _person(book, sealing, sealing.second, _MAY.second) if sealing.second else None,
    }


def _sentence(seal: Mapping[str, Any]) -> str:
    what = f"supplement {seal['supplement']} of the ledger" if seal["supplement"] else "the ledger"
    return f"I seal {what} of {seal['day']}, {count(seal['pages'])} pages, as: {sealed_as(seal)}."


def _person(book: BookFolder, sealing: Sealing, number: str, levels: tuple[Level, ...]) -> dict[str, str]:
    person = sealing.lists.person(number)
    role = role_for(levels, levels_at(number, sealing.lists, sealing.at))
    if person is None or role is None:
        allowed = ", ".join(levels)
        why = f"{number} is not qualified for it now (needed: {allowed})."
        raise _refused(book, why, "Let somebody who is qualified sign, or take over lists that say so.")
    return {"person": number, "name": person.name, "role": role.value}


def _check_people(book: BookFolder, sealing: Sealing, word: SealWord, words: str) -> None:
    if sealing.second == sealing.by:
        raise _refused(book, "Both signatures are of one person.", "Let a second, different person sign.")
    if word is not SealWord.COMPLETE and sealing.second is None:
        why = f"It would be sealed as {word.value} – {words}; that needs a second person."
        raise _refused(book, why, "Wait for the pages and close again, or name the second person with --second.")


def _check_turn(ledger: Path, book: BookFolder, zone: ZoneInfo) -> None:
    """Refuse unless the day is over and every book before this one is sealed."""
    end = day_bounds_utc(book.day, zone)[1]
    if read_time(book.body["closed_at"]) < end:
        why = f"It was closed at {book.body['closed_at']}, before the production day ended."
        raise _refused(book, why, f"Close it again after 06:00: consolidator close PLANT --day {book.day}.")
    if book.supplement:
        before = [open_book(ledger, book.day), *supplements_of(ledger, book.day)[: book.supplement - 1]]
    else:
        before = [open_book(ledger, day) for day in days_in(ledger) if day < book.day]
    unsealed = next((other for other in before if not other.is_sealed), None)
    if unsealed is not None:
        raise _refused(book, f"{name_of(unsealed)} is not sealed.", f"Seal {name_of(unsealed)} first.")
    if before and not book.supplement and before[-1].day != book.day - timedelta(days=1):
        gap = before[-1].day + timedelta(days=1)
        raise _refused(book, f"{gap} was never closed.", f"Close it first: consolidator close PLANT --day {gap}.")


def name_of(book: BookFolder) -> str:
    """Return a book's day, and its supplement."""
    return f"{book.day} supplement {book.supplement}" if book.supplement else str(book.day)


def _is_lost(kiosk: str, number: int, lost: tuple[PagesLost, ...]) -> bool:
    return any(told.series == kiosk and told.first <= number <= told.last for told in lost)


def _named(kiosk: str, numbers: list[int]) -> list[str]:
    return [f"{kiosk} {first}" if first == last else f"{kiosk} {first}–{last}" for first, last in runs_of(numbers)]


def _refused(book: BookFolder, why: str, next_step: str) -> SealRefused:
    return SealRefused(f"{name_of(book)} was not sealed.", why=why, next_step=next_step)
