"""Descriptions of gauges in plain files: read as they stand, or refused with the file's name and the next step."""

from pathlib import Path

import pytest

from kiosk.devices import read_gauges, read_kind
from kiosk.errors import GaugeFileNotUnderstood

KIND = """
words = "invented"
sends = "value"
[frame]
end = ";"
longest = 12
[reading]
pattern = '(?P<digits>[0-9]+,[0-9]+)'
unit = "mm"
"""


def test_without_the_file_no_gauge_is_plugged_in(tmp_path: Path) -> None:
    """Most kiosks have no gauge on a line."""
    assert read_gauges(tmp_path) == ()


def test_a_gauge_is_tied_to_its_port_and_its_kind(tmp_path: Path) -> None:
    """A kind of the program by its name, a plant's own by the name of a file beside it."""
    (tmp_path / "gauges.toml").write_text(
        '[[gauge]]\ngauge = "G-120"\nport = "/dev/one"\nkind = "line-on-press"\n'
        '[[gauge]]\ngauge = "G-121"\nport = "/dev/two"\nkind = "ours.toml"\n'
    )
    (tmp_path / "ours.toml").write_text(KIND)

    (first, kind), (second, own) = read_gauges(tmp_path)

    assert (first.gauge, first.port, kind.frame.end) == ("G-120", "/dev/one", "\r")
    assert (second.gauge, own.words, own.frame.end) == ("G-121", "invented", ";")


@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        ("(?P<digits>", "(?P<figures>"),
        ("(?P<digits>", "(((?P<digits>"),
        ('unit = "mm"', ""),
        ("longest = 12", "longest = 0"),
        ("longest = 12", "longest = 12\nspeed = 3"),
        ('sends = "value"', 'sends = "words"'),
        ("[frame]", "[frame"),
    ],
)
def test_a_description_that_could_be_misread_is_refused(tmp_path: Path, was: str, becomes: str) -> None:
    """A slip in the file is told when the kiosk starts, with the file's name; it never reads figures by half a rule."""
    (tmp_path / "ours.toml").write_text(KIND.replace(was, becomes, 1))

    with pytest.raises(GaugeFileNotUnderstood, match=r"ours\.toml"):
        read_kind("ours.toml", tmp_path)


@pytest.mark.parametrize("twin", ["gauge", "port"])
def test_one_gauge_on_two_ports_or_two_on_one_is_refused(tmp_path: Path, twin: str) -> None:
    """A value must come from one gauge that everybody knows."""
    other = {"gauge": ("G-1", "/dev/b"), "port": ("G-2", "/dev/a")}[twin]
    (tmp_path / "gauges.toml").write_text(
        '[[gauge]]\ngauge = "G-1"\nport = "/dev/a"\nkind = "line-on-press"\n'
        f'[[gauge]]\ngauge = "{other[0]}"\nport = "{other[1]}"\nkind = "line-on-press"\n'
    )

    with pytest.raises(GaugeFileNotUnderstood, match="twice"):
        read_gauges(tmp_path)


@pytest.mark.parametrize("name", ["none-such", "../kiosk.toml", "away.toml"])
def test_a_kind_that_is_not_there_is_refused(tmp_path: Path, name: str) -> None:
    """A name leads to the program's own kinds or into the kiosk's folder, nowhere else."""
    folder = tmp_path / "kiosk"
    folder.mkdir()
    (tmp_path / "kiosk.toml").write_text(KIND)

    with pytest.raises(GaugeFileNotUnderstood):
        read_kind(name, folder)
