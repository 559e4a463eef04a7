"""Lines of a journal: made, read back, and never believed when a byte is wrong."""

import shutil
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.book._journal import could_be_torn, read_lines, write_line

CONTENTS = st.lists(st.binary(max_size=60).map(lambda content: content.replace(b"\n", b" ")), min_size=1, max_size=5)


def test_a_line_is_length_fingerprint_content_and_line_end() -> None:
    """The form is what the reference page says; SHA-256 of `abc` is the example of FIPS 180-4, appendix B.1 (2002)."""
    expected = b"00000003 ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad abc\n"

    assert write_line(b"abc") == expected


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs the sha256sum of coreutils")
def test_a_line_can_be_checked_with_ordinary_tools() -> None:
    """What stands in a line is what sha256sum says of its content."""
    content = b'{"words":"caf\xc3\xa9"}'

    told = subprocess.run(["sha256sum"], input=content, capture_output=True, check=True).stdout.split()[0]

    assert write_line(content).split(b" ")[1] == told


@given(CONTENTS)
def test_lines_written_are_read_back_in_order(contents: list[bytes]) -> None:
    """Nothing is lost or changed between writing and reading."""
    lines, faults = read_lines(b"".join(write_line(content) for content in contents))

    assert [line.content for line in lines] == contents
    assert faults == []


@given(CONTENTS, st.data())
def test_one_flipped_bit_is_a_fault_and_the_other_lines_stay(contents: list[bytes], data: st.DataObject) -> None:
    """No bit of a journal can change without being seen, and it costs no more than the lines it touches."""
    whole = b"".join(write_line(content) for content in contents)
    place = data.draw(st.integers(0, len(whole) * 8 - 1))
    flipped = bytearray(whole)
    flipped[place // 8] ^= 1 << place % 8

    lines, faults = read_lines(bytes(flipped))

    assert faults
    assert len(lines) >= len(contents) - 2


@given(CONTENTS, st.data())
def test_a_cut_file_keeps_every_whole_line_and_looks_torn(contents: list[bytes], data: st.DataObject) -> None:
    """A power cut in the last write costs that write only."""
    whole = b"".join(write_line(content) for content in contents)
    cut = whole[: data.draw(st.integers(0, len(whole)))]

    lines, faults = read_lines(cut)

    assert [line.content for line in lines] == contents[: len(lines)]
    assert all(could_be_torn(cut, fault) for fault in faults)
    assert sum(fault.end - fault.offset for fault in faults) + sum(
        len(write_line(line.content)) for line in lines
    ) == len(cut)


def test_a_fault_before_a_whole_line_is_no_torn_write() -> None:
    """Only the end of a file can be torn; anything earlier is damage."""
    file_bytes = b"rubbish\n" + write_line(b"abc")

    lines, faults = read_lines(file_bytes)

    assert [line.content for line in lines] == [b"abc"]
    assert not could_be_torn(file_bytes, faults[0])


def test_two_broken_lines_at_the_end_are_no_torn_write() -> None:
    """One power cut tears one line, not two."""
    file_bytes = write_line(b"abc") + b"rubbish\nmore rubbish\n"

    _, faults = read_lines(file_bytes)

    assert not could_be_torn(file_bytes, faults[0])
