"""Values cut out of a gauge's bytes: whole ones exactly as sent, everything else told as unread.

The kinds are invented; the bytes of each are written down here by hand from its description.
"""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.devices import Indicated, Indications, Kind, Unread, own_kinds, read_kind

NOWHERE = Path("/nowhere")
PRESS = read_kind("line-on-press", NOWHERE)
FRAMED = read_kind("framed-on-press", NOWHERE)
DIAL = read_kind("dial-on-press", NOWHERE)


def heard(kind: Kind, *chunks: tuple[bytes, float]) -> list[Indicated | Unread]:
    """Return what comes of bytes at seconds after the line was opened."""
    line = Indications(kind, opened_at_s=0.0)
    return [found for chunk, at_s in chunks for found in line.take(chunk, at_s)]


@pytest.mark.parametrize(
    ("kind", "sent", "figure", "unit", "is_deviation"),
    [
        (PRESS, b"+0.31250 in\r", "+0.31250", "in", False),
        (PRESS, b"  7.9375mm\r", "7.9375", "mm", False),
        (PRESS, b"-  0.0120 mm\r", "-0.0120", "mm", False),
        (PRESS, b"000.3125in\r", "000.3125", "in", False),
        (FRAMED, b"\x02+0.3125I\x03", "+0.3125", "in", False),
        (DIAL, b"-0.0002\r\n", "-0.0002", "in", True),
    ],
)
def test_a_whole_value_comes_exactly_as_sent(
    kind: Kind, sent: bytes, figure: str, unit: str, is_deviation: bool
) -> None:
    """Every digit and the sign stay as they came; nothing is rounded, padded or shortened."""
    spaced = sent.lstrip() if kind is PRESS else sent

    assert heard(kind, (spaced, 9.0)) == [Indicated(figure, unit, is_deviation)]


@pytest.mark.parametrize(
    "sent",
    [b"0.31x5 in\r", b"0.3125 cm\r", b"0.3125\r", b"31250 in\r", b"\xb0.3125 in\r", b"0.3125 in?\r", b"--0.3 in\r",
     b"0.3125 in0.3126 in\r", b"\xff\x005.3125 in\r"],
)  # fmt: skip
def test_what_does_not_fit_the_whole_pattern_is_no_value(sent: bytes) -> None:
    """Noise around or inside a figure spoils it: no part of it is taken, and what came is told."""
    found = heard(PRESS, (sent, 9.0))

    assert [type(one) for one in found] == [Unread]
    assert found[0] == Unread(found[0].received, "noise")  # type: ignore[union-attr]


def test_half_a_line_is_told_after_a_rest_and_its_other_half_is_no_value() -> None:
    """`+1` then, late, `0.3125 in`: the rest looks like a whole figure, ten times too small."""
    found = heard(PRESS, (b"+1", 9.0), (b"", 9.6), (b"0.3125 in\r", 9.7), (b"10.3125 in\r", 12.0))

    assert found == [Unread("+1", "half"), Unread("0.3125 in", "half"), Indicated("10.3125", "in", False)]


def test_the_end_of_a_value_under_way_when_the_line_was_opened_is_no_value() -> None:
    """Plugged in while the gauge sends: the first thing to come may be the tail of a longer figure."""
    found = heard(PRESS, (b"0.3125 in\r", 0.1), (b"10.3125 in\r", 2.0))

    assert found == [Unread("0.3125 in", "half"), Indicated("10.3125", "in", False)]


def test_a_start_mark_makes_the_first_value_sure() -> None:
    """With a mark before each value nothing can be a tail; what stands before the mark is noise."""
    found = heard(FRAMED, (b"25I\x03\x02+0.3125I\x03", 0.1))

    assert found == [Unread("25I", "noise"), Indicated("+0.3125", "in", False)]


def test_a_value_begun_anew_inside_a_frame_counts_from_its_last_start() -> None:
    """The gauge broke off and began again: the whole one is the value, the broken one is told."""
    found = heard(FRAMED, (b"\x02+0.31\x02+0.3125I\x03", 9.0))

    assert found == [Unread("·+0.31", "noise"), Indicated("+0.3125", "in", False)]


def test_two_values_in_one_burst_are_two() -> None:
    """Both come out, in order; which of them is a reading is not settled here."""
    assert heard(PRESS, (b"0.3125 in\r0.3126 in\r", 9.0)) == [
        Indicated("0.3125", "in", False),
        Indicated("0.3126", "in", False),
    ]


def test_noise_without_an_end_does_not_grow_for_ever() -> None:
    """A line at the wrong speed is told, and the memory it takes stays small."""
    line, found = Indications(PRESS, opened_at_s=0.0), list[Indicated | Unread]()
    for place in range(1000):
        found += line.take(b"\xf8\x80\x00", 9.0 + place / 1000)

    assert found
    assert all(isinstance(one, Unread) for one in found)
    assert all(len(one.received) <= 40 for one in found if isinstance(one, Unread))


def test_what_was_begun_when_the_plug_was_pulled_is_half() -> None:
    """Pulling the plug in the middle of a value makes no value of it."""
    line = Indications(PRESS, opened_at_s=0.0)
    line.take(b"0.31", 9.0)

    assert line.cut() == (Unread("0.31", "half"),)
    assert line.cut() == ()


@pytest.mark.parametrize("name", own_kinds())
def test_each_kind_of_the_program_can_be_read(name: str) -> None:
    """No description is shipped that the kiosk would refuse."""
    assert read_kind(name, NOWHERE).words


FIGURES = st.from_regex(r"[+-]?[0-9]{1,3}\.[0-9]{1,5}", fullmatch=True)


@given(st.lists(FIGURES, min_size=1, max_size=5), st.data())
def test_values_cut_anywhere_on_the_way_come_out_whole(figures: list[str], data: st.DataObject) -> None:
    """However the bytes arrive in pieces, the values are those sent, in order, once each."""
    sent = b"".join(f"{figure} in\r".encode() for figure in figures)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(sent)), max_size=8)))
    pieces = [sent[a:b] for a, b in zip([0, *cuts], [*cuts, len(sent)], strict=True)]

    found = heard(PRESS, *((piece, 9.0 + place / 100) for place, piece in enumerate(pieces)))

    assert found == [Indicated(figure, "in", False) for figure in figures]


@given(FIGURES, st.integers(0, 12), st.integers(0, 255))
def test_one_changed_byte_never_makes_another_unit_or_a_longer_figure(figure: str, place: int, byte: int) -> None:
    """A line with one wrong byte is the same length or unread; no digit is dropped or added to make it fit."""
    sent = bytearray(f"{figure} in\r".encode())
    sent[place % len(sent)] = byte

    for found in heard(PRESS, (bytes(sent), 9.0), (b"", 11.0)):
        if isinstance(found, Indicated):
            assert found.unit == "in"
            assert len(found.figure) <= len(figure)
            assert found.figure.encode() in bytes(sent).replace(b" ", b"")
