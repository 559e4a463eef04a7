"""Versions on disk: whole or not at all, kept for ever, read back as they were."""

import hashlib
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import rfc8785

from consolidator.lists import (
    ListsDamaged,
    ListsNotKept,
    ListsRefused,
    as_known,
    current,
    history,
    lists_bytes,
    take_over,
    version,
)
from consolidator.plant import Plant
from kiosk.errors import NewerFormat
from kiosk.lists import Lists
from tests.unit.consolidator.lists.folders import LATER, START, ListsFolder, new_plant

ROOT = Path(__file__).resolve().parents[4]


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """A plant without lists."""
    return new_plant(tmp_path / "plant")


def _take(plant: Plant, deck: ListsFolder) -> Lists:
    return take_over(plant, deck.path, by="P-106", second="P-108", reason="first lists", at_utc=START)


def _take_again(plant: Plant, deck: ListsFolder) -> Lists:
    deck.set_cell("gauges", 2, "drawer", "Z-9")
    return take_over(plant, deck.path, by="P-105", reason="moved a gauge", at_utc=LATER)


def test_a_plant_without_lists_has_version_0(plant: Plant) -> None:
    """Kiosks may be enrolled before there are lists."""
    lists = current(plant)

    assert (lists.version, lists.plant, lists.zone, lists.gauges) == (0, "P-INV", "America/New_York", ())


def test_a_take_over_is_kept_with_time_people_reason_and_the_files_as_given(plant: Plant, deck: ListsFolder) -> None:
    """Ten years later anybody can see what was given, by whom, and why."""
    lists = _take(plant, deck)

    folder = plant.lists / "0001"
    told = json.loads((folder / "taken-over.json").read_bytes())
    content = (folder / "lists.json").read_bytes()
    assert (told["by"], told["second"], told["reason"]) == ("P-106", "P-108", "first lists")
    assert told["at"] == lists.taken_over_at == "2025-06-01T08:00:00.000-04:00"
    assert told["fingerprint"] == hashlib.sha256(content).hexdigest()
    assert content == rfc8785.dumps(json.loads(content))
    for path in deck.path.glob("*.csv"):
        assert (folder / "given" / path.name).read_bytes() == path.read_bytes()
        assert told["files"][path.name] == hashlib.sha256(path.read_bytes()).hexdigest()


def test_versions_are_read_back_as_they_were_taken_over(plant: Plant, deck: ListsFolder) -> None:
    """A later version changes nothing of an earlier one."""
    first = _take(plant, deck)
    second = _take_again(plant, deck)

    assert (version(plant, 1), version(plant, 2), current(plant)) == (first, second, second)
    assert Lists.model_validate_json(lists_bytes(plant, 2)) == second
    assert [told.changed for told in history(plant)][1] == ("gauges",)


@pytest.mark.parametrize(("seconds", "number"), [(-1, 1), (0, 2), (1, 2)])
def test_lists_as_known_at_a_moment_are_the_newest_taken_over_by_then(
    plant: Plant, deck: ListsFolder, seconds: int, number: int
) -> None:
    """The second of the take-over is the first moment it is known."""
    _take(plant, deck)
    _take_again(plant, deck)

    assert as_known(plant, LATER + timedelta(seconds=seconds)).version == number


def test_before_the_first_take_over_nothing_was_known(plant: Plant, deck: ListsFolder) -> None:
    """Version 0 then."""
    _take(plant, deck)

    assert as_known(plant, START - timedelta(seconds=1)).version == 0


def test_a_refused_take_over_leaves_nothing_behind(plant: Plant, deck: ListsFolder) -> None:
    """Nothing is taken over if anything is wrong."""
    deck.set_cell("lots", 3, "part", "B-9")

    with pytest.raises(ListsRefused):
        _take(plant, deck)

    assert list(plant.lists.iterdir()) == []


@pytest.mark.parametrize("reason", ["", "  "])
def test_a_take_over_without_a_reason_is_refused_along_with_every_other_fault(
    plant: Plant, deck: ListsFolder, reason: str
) -> None:
    """The reason is part of the record."""
    deck.set_cell("lots", 3, "part", "B-9")

    with pytest.raises(ListsRefused) as caught:
        take_over(plant, deck.path, by="P-106", second="P-108", reason=reason, at_utc=START)

    assert [fault.file for fault in caught.value.faults] == ["lots.csv", "take-over"]


def _flip_a_byte(folder: Path) -> None:
    content = bytearray((folder / "lists.json").read_bytes())
    content[len(content) // 2] ^= 1
    (folder / "lists.json").write_bytes(bytes(content))


def _cut_short(folder: Path) -> None:
    (folder / "taken-over.json").write_bytes((folder / "taken-over.json").read_bytes()[:40])


def _swap_number(folder: Path) -> None:
    path = folder / "taken-over.json"
    path.write_bytes(path.read_bytes().replace(b'"version":1', b'"version":7'))


def _lose_a_field(folder: Path) -> None:
    path = folder / "taken-over.json"
    path.write_bytes(path.read_bytes().replace(b'"by":', b'"bye":'))


def _lose_lists(folder: Path) -> None:
    (folder / "lists.json").unlink()


@pytest.mark.parametrize("harm", [_flip_a_byte, _cut_short, _swap_number, _lose_a_field, _lose_lists])
def test_a_damaged_version_is_told_and_never_read_as_something_else(
    plant: Plant, deck: ListsFolder, harm: Callable[[Path], None]
) -> None:
    """One flipped bit in a limit must not judge a day."""
    _take(plant, deck)
    harm(plant.lists / "0001")

    with pytest.raises(ListsDamaged, match="version 1") as caught:
        current(plant)

    assert "as it is" in caught.value.next_step


def test_a_take_over_without_a_reason_is_told_so_when_all_else_is_good(plant: Plant, deck: ListsFolder) -> None:
    """The missing reason alone refuses it."""
    with pytest.raises(ListsRefused) as caught:
        take_over(plant, deck.path, by="P-106", second="P-108", reason=" ", at_utc=START)

    assert [(fault.file, fault.column) for fault in caught.value.faults] == [("take-over", "reason")]
    assert current(plant).version == 0


def test_lists_json_that_fits_its_fingerprint_but_holds_no_lists_is_told(plant: Plant, deck: ListsFolder) -> None:
    """A fingerprint proves the bytes, not that they are lists."""
    _take(plant, deck)
    folder = plant.lists / "0001"
    told = json.loads((folder / "taken-over.json").read_bytes())
    (folder / "lists.json").write_bytes(b"{}")
    told["fingerprint"] = hashlib.sha256(b"{}").hexdigest()
    (folder / "taken-over.json").write_bytes(rfc8785.dumps(told))

    with pytest.raises(ListsDamaged, match="does not hold lists"):
        current(plant)


def test_a_version_folder_that_is_missing_between_others_is_told(plant: Plant, deck: ListsFolder) -> None:
    """Versions are kept for ever; a gap is damage."""
    _take(plant, deck)
    _take_again(plant, deck)
    (plant.lists / "0001").rename(plant.root / "taken-away")

    with pytest.raises(ListsDamaged, match="version 1"):
        current(plant)


def test_a_version_nobody_took_over_cannot_be_read(plant: Plant) -> None:
    """There is no version 3."""
    with pytest.raises(ListsDamaged, match="version 3"):
        version(plant, 3)


def test_a_version_made_by_a_newer_program_is_refused_by_name(plant: Plant, deck: ListsFolder) -> None:
    """It is never guessed at."""
    _take(plant, deck)
    path = plant.lists / "0001" / "taken-over.json"
    path.write_bytes(path.read_bytes().replace(b'"format":1', b'"format":2'))

    with pytest.raises(NewerFormat, match="format 2"):
        current(plant)


def test_a_folder_left_half_written_is_passed_over(plant: Plant, deck: ListsFolder) -> None:
    """A power cut leaves at most a folder that nobody reads."""
    _take(plant, deck)
    (plant.lists / ".coming-abc").mkdir()

    assert current(plant).version == 1
    assert _take_again(plant, deck).version == 2


def test_a_disk_that_takes_nothing_is_told_and_the_version_before_stays(plant: Plant, deck: ListsFolder) -> None:
    """Here a file stands where the lists' folder should be."""
    plant.lists.rmdir()
    plant.lists.write_bytes(b"")

    with pytest.raises(ListsNotKept, match="version 1 not kept"):
        _take(plant, deck)

    assert plant.lists.read_bytes() == b""


class RacedFolder(type(Path())):  # type: ignore[misc]  # the platform's own kind of path
    """A folder of list files during whose reading somebody else's take-over comes through."""

    meanwhile: Callable[[], object]

    def iterdir(self) -> Iterator[Path]:
        """Let the other take-over through, then list the files."""
        self.meanwhile()
        return iter(sorted(Path(self).iterdir()))


def test_a_version_that_another_take_over_wrote_first_is_not_written_over(plant: Plant, deck: ListsFolder) -> None:
    """Two people at two screens: the second is told, and the first one's version stays."""
    _take(plant, deck)
    raced = RacedFolder(deck.path)
    raced.meanwhile = lambda: _take_again(plant, deck)

    with pytest.raises(ListsNotKept, match="Another take-over came first"):
        take_over(plant, raced, by="P-101", reason="at the same time", at_utc=LATER)

    assert [told.by for told in history(plant)] == ["P-106", "P-105"]
    assert [path.name for path in plant.lists.iterdir() if path.name.startswith(".")] == []


@pytest.mark.crash
@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="the small program forks, which Windows cannot")
def test_killed_at_any_file_act_the_new_version_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    """Each run is killed one act later; a reader finds version 1 or a whole version 2, and the next take-over works."""
    module = "tests.unit.consolidator.lists.crash_take_over"
    done = subprocess.run(
        [sys.executable, "-m", module, str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=110,
    )

    assert done.returncode == 0, done.stderr[-2000:]
    runs = [[int(word) for word in line.split()] for line in done.stdout.splitlines()]
    assert len(runs) > 15
    for act, status, found, again in runs:
        assert (status, found, again) in ((9, 1, 2), (9, 2, 3), (0, 2, 3)), act
    assert runs[-1][1:] == [0, 2, 3]
