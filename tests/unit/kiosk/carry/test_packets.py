"""Packets: their form, their limits, and what is seen when one byte is not as it was."""

import hashlib
import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import given
from hypothesis import strategies as st

from kiosk.carry import make_packets, read_packet, runs_to_carry
from kiosk.carry.keys import signing_key
from kiosk.carry.statements import is_signed
from kiosk.errors import NewerFormat, PacketRefused
from kiosk.settings import Settings
from tests.unit.carried import book_of

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
BOOK = book_of(7)
[(HEADER, RAW)] = make_packets(BOOK.pages(1, 7), KEY)


def test_a_packet_can_be_checked_with_the_standard_library_and_a_signature_check_alone() -> None:
    """The form is the one of docs/reference/packet.md: this reader was written from that page, not from the code."""
    header_line, signature, body = RAW.split(b"\n", 2)
    lines = body.split(b"\n")[:-1]
    header = json.loads(header_line)

    KEY.public_key().verify(bytes.fromhex(signature.decode()), header_line)

    assert hashlib.sha256(body).hexdigest() == header["body"]
    assert [hashlib.sha256(line[65:]).hexdigest() for line in lines] == [line[:64].decode() for line in lines]
    assert header["head"] == lines[-1][:64].decode()
    assert (header["first"], header["last"], header["count"]) == (1, 7, 7)
    assert header_line == json.dumps(header, sort_keys=True, separators=(",", ":")).encode()


def test_a_signature_of_the_standard_s_own_example_is_taken_and_any_other_is_not() -> None:
    """RFC 8032 section 7.1, TEST 2."""
    key = signing_key("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )

    assert isinstance(key, Ed25519PublicKey)
    assert is_signed(b"\x72", signature, key)
    assert not is_signed(b"\x73", signature, key)


def test_the_same_pages_give_the_same_packet_to_the_byte() -> None:
    """Carrying again changes nothing because there is nothing new in it."""
    assert list(make_packets(BOOK.pages(1, 7), KEY)) == [(HEADER, RAW)]


def test_packets_are_cut_at_full_segments_and_at_missing_numbers() -> None:
    """A run is unbroken, and a segment of the book is one packet."""
    book = book_of(25)
    book.gone = {13}

    runs = [
        (h.first, h.last) for h, _ in make_packets(book.pages(1, 25), KEY, settings=Settings(carry_packet_pages=10))
    ]

    assert runs == [(1, 10), (11, 12), (14, 20), (21, 25)]


@given(place=st.integers(0, len(RAW) - 1), bit=st.integers(0, 7))
def test_one_flipped_bit_anywhere_is_refused(place: int, bit: int) -> None:
    """Nothing of a packet changed on the way is taken: not one bit of the 5,000 bytes goes unseen."""
    altered = bytearray(RAW)
    altered[place] ^= 1 << bit

    try:
        packet = read_packet(bytes(altered))
    except (PacketRefused, NewerFormat):
        return

    assert not packet.is_signed_by(KEY.public_key())


def test_a_changed_page_is_named() -> None:
    """The person with the stick knows where to look."""
    with pytest.raises(PacketRefused, match=r"changed on the way at page 3\."):
        read_packet(RAW.replace(b"page 3", b"page 9"))


@pytest.mark.parametrize("cut", [0, 1, 100, 400, 700, len(RAW) // 2, len(RAW) - 1])
def test_a_packet_that_arrived_in_part_is_refused(cut: int) -> None:
    """Half a packet is no packet."""
    with pytest.raises(PacketRefused):
        read_packet(RAW[:cut])


@pytest.mark.parametrize(
    "raw",
    [b"\0" * 5_000_000, b"[" * 100_000 + b"\n", b"{}\n" + b"0" * 128 + b"\n", b'"text"\n' + b"0" * 128 + b"\n", b""],
)
def test_zeros_and_nested_brackets_are_refused_at_the_header(raw: bytes) -> None:
    """What is no packet costs no more than looking at its first lines."""
    with pytest.raises(PacketRefused, match="was not taken"):
        read_packet(raw)


def test_a_packet_over_its_limit_is_refused_whatever_it_holds() -> None:
    """A limit stands before any reading."""
    with pytest.raises(PacketRefused, match="larger than 1000 bytes"):
        read_packet(RAW, settings=Settings(carry_packet_bytes_limit=1_000))


def test_a_page_over_its_limit_is_refused_by_number() -> None:
    """One page may not fill the memory."""
    with pytest.raises(PacketRefused, match="page 1 is not"):
        read_packet(RAW, settings=Settings(carry_page_bytes_limit=100))


def test_a_packet_of_a_newer_program_is_refused_by_its_format() -> None:
    """A newer format is never guessed at."""
    with pytest.raises(NewerFormat, match="format 2"):
        read_packet(RAW.replace(b'"format":1,"head"', b'"format":2,"head"', 1))


@given(st.sets(st.integers(1, 60)), st.integers(0, 60))
def test_what_is_to_carry_and_what_is_held_make_the_whole_book(held: set[int], last: int) -> None:
    """Every page up to the last is either held or carried, never both: held against plain sets of numbers."""
    runs: list[tuple[int, int]] = []
    for number in sorted(held):
        runs = [*runs[:-1], (runs[-1][0], number)] if runs and runs[-1][1] == number - 1 else [*runs, (number, number)]

    carried = [number for a, b in runs_to_carry(runs, last) for number in range(a, b + 1)]

    assert carried == sorted(set(range(1, last + 1)) - held)
