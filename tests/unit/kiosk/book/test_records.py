"""The small records of a store: identity and receipts."""

from datetime import timedelta

import pytest
import rfc8785

from kiosk.book._records import (
    Identity,
    Receipt,
    forgettable_through,
    latest,
    read_identity,
    still_needed,
    write_identity,
)
from kiosk.errors import NewerFormat
from kiosk.pages import fingerprint
from kiosk.times import write_time
from tests.unit.kiosk.plant import local

IDENTITY = Identity(plant="PL-1", series="S12-a", station="S12", segment_pages=200)
TAKEN = local("2026-03-01 06:00:00")


def _receipt(through: int, days: int) -> Receipt:
    return Receipt(through=through, fingerprint="0" * 64, at=write_time(TAKEN + timedelta(days=days)))


def test_an_identity_reads_back_as_written() -> None:
    """A store knows which book it belongs to."""
    assert read_identity(write_identity(IDENTITY)) == IDENTITY


def test_no_byte_of_an_identity_can_change_unseen() -> None:
    """A store never passes for another book's because of one flipped bit."""
    whole = write_identity(IDENTITY)

    for place in range(len(whole) * 8):
        flipped = bytearray(whole)
        flipped[place // 8] ^= 1 << place % 8
        assert read_identity(bytes(flipped)) is None


@pytest.mark.parametrize("content", [b"", b"{}", b"[]", b'"x"', b"\xff", b"{" * 100_000])
def test_what_is_no_identity_is_told_as_none(content: bytes) -> None:
    """A foreign or empty file is damage, not a crash."""
    assert read_identity(content) is None


def test_a_newer_store_is_refused_by_name() -> None:
    """A store of a newer program is never guessed at."""
    body = {**IDENTITY.model_dump(mode="json"), "format": 2, "something new": True}
    content = rfc8785.dumps({**body, "check": fingerprint(rfc8785.dumps(body))})

    with pytest.raises(NewerFormat, match="book format 2"):
        read_identity(content)


def test_pages_may_be_forgotten_thirty_days_after_their_receipt_and_not_a_moment_before() -> None:
    """Thirty days are thirty days; the rule is the plant's own (kept 30 days after the receipt)."""
    receipts = [_receipt(100, days=0), _receipt(200, days=10)]

    assert forgettable_through(receipts, TAKEN + timedelta(days=30, milliseconds=-1), 30) == 0
    assert forgettable_through(receipts, TAKEN + timedelta(days=30), 30) == 100
    assert forgettable_through(receipts, TAKEN + timedelta(days=40), 30) == 200


def test_receipts_still_needed_reach_as_far_as_all_of_them() -> None:
    """Forgetting old receipts forgets nothing about what was carried."""
    receipts = [_receipt(100, days=0), _receipt(150, days=5), _receipt(200, days=10)]

    needed = still_needed(receipts, TAKEN + timedelta(days=36), 30)

    assert [receipt.through for receipt in needed] == [150, 200]
    assert latest(needed) == latest(receipts)
