"""A seal says how whole a day is, needs its people and its turn, and carries the seal before it."""

import hashlib
from datetime import timedelta
from pathlib import Path

import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature

from consolidator.errors import LedgerSealed, SealRefused
from consolidator.ledger import folder
from consolidator.ledger.seal import seal_book, seal_word, sealed_as, sealed_books
from kiosk.pages.desk import PagesLost
from kiosk.pages.words import SealWord
from tests.unit.consolidator.ledger.plants import KEY, sealing, write_day, write_sealed
from tests.unit.consolidator.ledger.small_days import DAY, book_of, closed_day, kiosk_row, reading

NEXT = DAY + timedelta(days=1)
READINGS = [reading("S12-a", 1, "L-411"), reading("S12-a", 2, "L-411")]
SILENT = kiosk_row("S21-a", state="silent", last_contact="2026-03-16T22:14:00.000-04:00")
GAP = kiosk_row("S12-a", missing="1042")
LOST = PagesLost(series="S12-a", first=1042, last=1042, reason="store broken")


def test_a_whole_day_is_sealed_complete_by_one_person(tmp_path: Path) -> None:
    """Fay alone seals a day to which nothing is missing; the seal is what the act says."""
    (act,) = write_sealed(tmp_path, closed_day(READINGS))

    sealed = folder.open_book(tmp_path, DAY)
    assert sealed.is_sealed
    assert (act.word, act.words, act.before) == (SealWord.COMPLETE, "", None)
    assert act.ledger == sealed.seal_file["ledger"]
    assert act.signature is not None
    assert (act.signature.person, act.signature.name, act.signature.role) == ("P-106", "Fay", "ledger sealer")
    assert act.signature.sentence == "I seal the ledger of 2026-03-16, 2 pages, as: Complete."
    assert act.signature.at == "2026-03-17T10:00:00.000-04:00"


def test_the_signature_is_ed25519_over_the_canonical_seal(tmp_path: Path) -> None:
    """The `cryptography` library accepts the signature over what the RFC 8785 library writes, and nothing else."""
    write_sealed(tmp_path, closed_day(READINGS))
    told = folder.open_book(tmp_path, DAY).seal_file
    signed = rfc8785.dumps(told["seal"])

    KEY.public_key().verify(bytes.fromhex(told["signature"]), signed)
    with pytest.raises(InvalidSignature):
        KEY.public_key().verify(bytes.fromhex(told["signature"]), signed + b" ")
    assert told["fingerprint"] == hashlib.sha256(signed).hexdigest()


def test_each_seal_carries_the_seal_before_it(tmp_path: Path) -> None:
    """Days and supplements stand in one chain, in the order of sealing."""
    late = closed_day([*READINGS, reading("S12-a", 3, "L-411")])
    write_sealed(tmp_path, closed_day(READINGS), closed_day([reading("S12-a", 4, "L-411")], day=NEXT))
    from consolidator.ledger.day_books import supplement_book
    from tests.unit.consolidator.ledger.small_days import lists_used

    sealed = folder.open_book(tmp_path, DAY)
    tables = {name: sealed.table(name) for name in sealed.body["tables"]}
    book = supplement_book(late, lists_used(), b"{}", sealed=[tables], number=1)
    assert book is not None
    folder.write_book(tmp_path, book)
    seal_book(tmp_path, DAY, 1, sealing(NEXT), KEY)

    chain = [each.seal_file for each in sealed_books(tmp_path)]

    assert [told["seal"]["number"] for told in chain] == [1, 2, 3]
    assert [told["seal"]["before"] for told in chain] == [None, chain[0]["fingerprint"], chain[1]["fingerprint"]]
    assert [(told["seal"]["day"], told["seal"]["supplement"]) for told in chain] == [
        ("2026-03-16", 0),
        ("2026-03-17", 0),
        ("2026-03-16", 1),
    ]


@pytest.mark.parametrize(
    ("kiosks", "lost", "word", "words"),
    [
        ([kiosk_row("S12-a")], [], SealWord.COMPLETE, ""),
        ([kiosk_row("S12-a"), SILENT], [], SealWord.INCOMPLETE, "kiosks not heard from: S21 (S21-a)"),
        ([GAP], [], SealWord.INCOMPLETE, "pages missing: S12-a 1042"),
        ([GAP], [LOST], SealWord.EXCEPT_LOST, "pages declared lost: S12-a 1042"),
        (
            [kiosk_row("S12-a", missing="1042;1043;1050")],
            [LOST],
            SealWord.INCOMPLETE,
            "pages missing: S12-a 1043, S12-a 1050; pages declared lost: S12-a 1042",
        ),
        (
            [kiosk_row("S12-a", missing="7;8;9"), SILENT],
            [],
            SealWord.INCOMPLETE,
            "kiosks not heard from: S21 (S21-a); pages missing: S12-a 7–9",
        ),
        ([kiosk_row("S12-a", state="withdrawn")], [], SealWord.COMPLETE, ""),
    ],
)
def test_the_word_says_how_whole_the_day_is(
    tmp_path: Path, kiosks: list[dict[str, str]], lost: list[PagesLost], word: SealWord, words: str
) -> None:
    """Silent kiosks and missing pages make a day Incomplete, by name; declared ones are named as lost."""
    book = write_day(tmp_path, closed_day(READINGS, kiosks=kiosks))

    assert seal_word(book, lost) == (word, words)


def test_a_day_with_a_missing_page_is_never_sealed_complete(tmp_path: Path) -> None:
    """One person is refused, and with two the word printed is Incomplete, with the page named."""
    write_day(tmp_path, closed_day(READINGS, kiosks=[GAP]))

    with pytest.raises(SealRefused, match="Incomplete – pages missing: S12-a 1042; that needs a second person"):
        seal_book(tmp_path, DAY, 0, sealing(DAY), KEY)
    assert not folder.open_book(tmp_path, DAY).is_sealed

    seal_book(tmp_path, DAY, 0, sealing(DAY, second="P-108"), KEY)
    sealed = folder.open_book(tmp_path, DAY).seal_file["seal"]
    assert sealed_as(sealed) == "Incomplete – pages missing: S12-a 1042"
    assert sealed["second"] == {"person": "P-108", "name": "Hana", "role": "disposition authority"}


@pytest.mark.parametrize(
    ("by", "second", "why"),
    [
        ("P-106", "P-106", "Both signatures are of one person"),
        ("P-101", None, "P-101 is not qualified"),
        ("P-108", None, "P-108 is not qualified"),
        ("P-106", "P-101", "P-101 is not qualified"),
        ("P-999", None, "P-999 is not qualified"),
        ("P-110", None, "P-110 is not qualified"),
    ],
)
def test_who_may_not_seal_is_refused_by_name(tmp_path: Path, by: str, second: str | None, why: str) -> None:
    """A sealer seals; a second person is another one, with authority."""
    write_day(tmp_path, closed_day(READINGS))

    with pytest.raises(SealRefused, match=why):
        seal_book(tmp_path, DAY, 0, sealing(DAY, by=by, second=second), KEY)

    assert not folder.open_book(tmp_path, DAY).is_sealed


def test_the_day_before_is_sealed_first(tmp_path: Path) -> None:
    """Days are sealed in order, and the message names the one to seal."""
    write_day(tmp_path, closed_day(READINGS))
    write_day(tmp_path, closed_day([reading("S12-a", 3, "L-411")], day=NEXT))

    with pytest.raises(SealRefused, match=r"2026-03-16 is not sealed\. Seal 2026-03-16 first"):
        seal_book(tmp_path, NEXT, 0, sealing(NEXT), KEY)


def test_a_day_that_was_never_closed_is_not_passed_over(tmp_path: Path) -> None:
    """A hole in the days would hide whatever happened in it."""
    write_sealed(tmp_path, closed_day(READINGS))
    after = NEXT + timedelta(days=1)
    write_day(tmp_path, closed_day([reading("S12-a", 3, "L-411")], day=after))

    with pytest.raises(SealRefused, match="2026-03-17 was never closed"):
        seal_book(tmp_path, after, 0, sealing(after), KEY)


def test_a_running_day_is_not_sealed(tmp_path: Path) -> None:
    """A day closed before 06:00 of the next morning is closed again first."""
    closed = closed_day(READINGS)
    early = book_of(closed.__class__(**{**closed.__dict__, "at_utc": closed.at_utc - timedelta(hours=4)}))
    folder.write_book(tmp_path, early)

    with pytest.raises(SealRefused, match="before the production day ended"):
        seal_book(tmp_path, DAY, 0, sealing(DAY), KEY)


def test_a_sealed_day_is_not_sealed_again_nor_written(tmp_path: Path) -> None:
    """Neither a second seal nor another pass changes a byte."""
    write_sealed(tmp_path, closed_day(READINGS))
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}

    with pytest.raises(SealRefused, match="sealed already"):
        seal_book(tmp_path, DAY, 0, sealing(DAY), KEY)
    with pytest.raises(LedgerSealed):
        write_day(tmp_path, closed_day(READINGS[:1]))

    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
