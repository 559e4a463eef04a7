"""The versions of a plant's lists on disk: taken over whole or not at all, kept for ever, read back as they were.

Owns `PLANT/lists/0001/` and its like: `lists.json` (RFC 8785), `taken-over.json`, and in `given/` the files as given.
Must not judge whether lists are right; that is done before anything is written.
"""

import errno
import hashlib
import json
import os
import re
import shutil
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Annotated, Final, Literal

import rfc8785
from pydantic import Field, ValidationError

from consolidator.lists.changes import Occasion
from consolidator.lists.examination import Examined, examine
from consolidator.lists.faults import TAKE_OVER, Fault, ListsDamaged, ListsNotKept, ListsRefused
from consolidator.lists.limits import DerivedLimits, derived_limits
from consolidator.plant import Plant
from kiosk.errors import NewerFormat
from kiosk.lists import Lists
from kiosk.pages._base import Fingerprint, Frozen, Name, Words
from kiosk.times import LocalTime, read_time

FORMAT: Final = 1
"""Version of the layout of a version folder."""
_FOLDER: Final = re.compile(r"\d{4,}")
_COMING: Final = ".coming-"
"""A folder that is being written begins so; one left behind by a power cut is never read."""


class TakenOver(Frozen):
    """How one version came to be; `changed` names the lists that differ from the version before."""

    format: Literal[1] = FORMAT
    version: Annotated[int, Field(ge=1)]
    at: LocalTime
    by: Name
    second: Name | None = None
    reason: Words
    fingerprint: Fingerprint
    """SHA-256 of the bytes of lists.json."""
    files: dict[str, Fingerprint]
    """SHA-256 of each file as given."""
    changed: tuple[str, ...] = ()
    derived: tuple[DerivedLimits, ...] = ()
    """Limits that were new in it and come from a standard, with every step, as those saw them who took it over."""


def take_over(
    plant: Plant, folder: Path, *, by: str, second: str | None = None, reason: str, at_utc: datetime
) -> Lists:
    """Check the list files of `folder` as a whole and keep them as the plant's next version.

    `by` and `second` are numbers of people; limits, parts, plans, plant numbers and authority need both.
    The version's folder appears whole or not at all, even if the power goes.

    Raises:
        ListsRefused: anything is wrong; it carries every fault, and nothing was kept.
        ListsNotKept: the disk did not take it, or another take-over came first.
        ListsDamaged: the version before cannot be read.
    """
    occasion = Occasion(at_utc, plant.zone, current(plant), by, second)
    if not reason.strip():
        raise ListsRefused([*_faults_of(plant, folder, occasion), _no_reason()])
    examined = examine(folder, plant.number, occasion)
    content = rfc8785.dumps(examined.lists.model_dump(mode="json", exclude_none=True))
    assert examined.lists.taken_over_at is not None
    told = TakenOver(
        version=examined.lists.version,
        at=examined.lists.taken_over_at,
        by=by,
        second=second,
        reason=reason,
        fingerprint=_fingerprint(content),
        files={file.name: _fingerprint(file.content) for file in examined.files},
        changed=examined.changed,
        derived=derived_limits(examined.lists, occasion.before),
    )
    _keep(plant, told, content, examined)
    return examined.lists


def current(plant: Plant) -> Lists:
    """Return the newest version; version 0, without a row, when nothing was taken over yet.

    Raises:
        ListsDamaged: it is not what was taken over.
    """
    numbers = _numbers(plant)
    return version(plant, numbers[-1]) if numbers else version(plant, 0)


def version(plant: Plant, number: int) -> Lists:
    """Return version `number` exactly as it was taken over; 0 is the plant without a row.

    Raises:
        ListsDamaged: there is no such version, or it is not what was taken over.
        NewerFormat: it was made by a newer version of the program.
    """
    if number == 0:
        return Lists(plant=plant.number, zone=plant.zone.key, version=0)
    content = lists_bytes(plant, number)
    try:
        return Lists.model_validate_json(content)
    except ValidationError as error:
        raise _damaged(plant, number, "its lists.json does not hold lists") from error


def lists_bytes(plant: Plant, number: int) -> bytes:
    """Return the canonical bytes of a version, checked against the fingerprint it was taken over with.

    Raises:
        ListsDamaged: there is no such version, or it is not what was taken over.
        NewerFormat: it was made by a newer version of the program.
    """
    told = taken_over(plant, number)
    content = _read(plant, number, "lists.json")
    if _fingerprint(content) != told.fingerprint:
        raise _damaged(plant, number, "its lists.json is not what was taken over: the fingerprint does not fit")
    return content


def taken_over(plant: Plant, number: int) -> TakenOver:
    """Return when, by whom and why version `number` was taken over.

    Raises:
        ListsDamaged: there is no such version, or what was kept of it cannot be read.
        NewerFormat: it was made by a newer version of the program.
    """
    content = _read(plant, number, "taken-over.json")
    try:
        raw = json.loads(content)
    except ValueError as error:
        raise _damaged(plant, number, "its taken-over.json is not JSON") from error
    made_by = raw.get("format") if isinstance(raw, dict) else None
    if isinstance(made_by, int) and made_by > FORMAT:
        raise NewerFormat(
            f"Lists version {number} not read: it has format {made_by}.",
            why=f"This program knows formats up to {FORMAT}.",
            next_step="Update this program; the version is kept as it is.",
        )
    try:
        told = TakenOver.model_validate_json(content)
    except ValidationError as error:
        raise _damaged(plant, number, "its taken-over.json lacks what it must hold") from error
    if told.version != number:
        raise _damaged(plant, number, f"its taken-over.json is that of version {told.version}")
    return told


def history(plant: Plant) -> tuple[TakenOver, ...]:
    """Return how each version came to be, the oldest first.

    Raises:
        ListsDamaged: a version is missing or cannot be read.
    """
    return tuple(taken_over(plant, number) for number in _numbers(plant))


def as_known(plant: Plant, at_utc: datetime) -> Lists:
    """Return the newest version taken over not after `at_utc` (aware); version 0 when all came later.

    Raises:
        ListsDamaged: a version is missing or cannot be read.
    """
    known = [told.version for told in history(plant) if read_time(told.at) <= at_utc]
    return version(plant, known[-1] if known else 0)


def _numbers(plant: Plant) -> list[int]:
    if not plant.lists.is_dir():
        return []
    numbers = sorted(int(path.name) for path in plant.lists.iterdir() if _FOLDER.fullmatch(path.name))
    missing = sorted(set(range(1, len(numbers) + 1)) - set(numbers))
    if missing:
        raise _damaged(plant, missing[0], "its folder is missing, though later versions are there")
    return numbers


def _folder(plant: Plant, number: int) -> Path:
    return plant.lists / f"{number:04d}"


def _read(plant: Plant, number: int, name: str) -> bytes:
    try:
        return (_folder(plant, number) / name).read_bytes()
    except OSError as error:
        raise _damaged(plant, number, f"its {name} cannot be read ({error.strerror})") from error


def _faults_of(plant: Plant, folder: Path, occasion: Occasion) -> tuple[Fault, ...]:
    try:
        examine(folder, plant.number, occasion)
    except ListsRefused as refused:
        return refused.faults
    return ()


def _keep(plant: Plant, told: TakenOver, content: bytes, examined: Examined) -> None:
    """Write the version beside the others under a name nobody reads, then give it its own name in one step."""
    coming: Path | None = None
    try:
        plant.lists.mkdir(parents=True, exist_ok=True)
        coming = Path(tempfile.mkdtemp(prefix=_COMING, dir=plant.lists))
        (coming / "given").mkdir()
        for file in examined.files:
            _write_synced(coming / "given" / file.name, file.content)
        _write_synced(coming / "lists.json", content)
        _write_synced(coming / "taken-over.json", rfc8785.dumps(told.model_dump(mode="json", exclude_none=True)))
        coming.chmod(0o755)
        for path in (coming / "given", coming):
            _sync_folder(path)
        coming.rename(_folder(plant, told.version))
        _sync_folder(plant.lists)
    except OSError as error:
        if coming is not None:
            shutil.rmtree(coming, ignore_errors=True)
        came_first = error.errno in (errno.ENOTEMPTY, errno.EEXIST)
        raise _not_kept(told.version, came_first=came_first, reason=error.strerror or "no reason given") from error


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(path: Path) -> None:
    if os.name == "nt":  # pragma: no cover - Windows cannot sync a folder and orders its own renames
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _fingerprint(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _no_reason() -> Fault:
    why = "the reason is kept with the version for ever"
    return Fault(TAKE_OVER, None, "reason", "the reason is missing", why, "write why the lists change")


def _not_kept(number: int, *, came_first: bool, reason: str) -> ListsNotKept:
    return ListsNotKept(
        f"Lists version {number} not kept.",
        why="Another take-over came first." if came_first else f"The disk did not take it ({reason}).",
        next_step="Look at the lists in use, then take the folder over again; the version before is whole.",
    )


def _damaged(plant: Plant, number: int, why: str) -> ListsDamaged:
    return ListsDamaged(
        f"Lists version {number} of plant {plant.number} not read.",
        why=f"Folder lists/{number:04d}: {why}.",
        next_step="Keep the folder as it is, and put it back from the last copy of the plant folder.",
    )
