"""From a folder of list files to lists, with every fault found at once; and from lists to a folder of files.

Owns the order of the checks. Must not keep anything.
"""

from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from consolidator.lists.changes import Occasion, changed_lists, check_changes, check_people
from consolidator.lists.checks import Draft, check_whole
from consolidator.lists.faults import Fault, ListsRefused
from consolidator.lists.files import GivenFile, gather, read_csv, write_rows
from consolidator.lists.limits import check_limits, fill_in
from consolidator.lists.rows import ReadList, keep_list, read_list, rows_as_text
from consolidator.lists.tables import TABLES, ListTable
from consolidator.lists.workbooks import read_workbook
from consolidator.settings import Settings
from kiosk.lists import Lists
from kiosk.times import write_time


@dataclass(frozen=True)
class Examined:
    """Lists without a fault, the files they came from, and the names of the lists that changed."""

    lists: Lists
    files: tuple[GivenFile, ...]
    changed: tuple[str, ...]


def check_lists(folder: Path, *, plant: str, zone: ZoneInfo | str, before: Lists | None, at_utc: datetime) -> Lists:
    """Return the lists that the files of `folder` give, as the version after `before`; who signs is not looked at.

    A list whose file is not in the folder keeps the rows it has in `before`.
    `at_utc` is the moment of the take-over, aware.

    Raises:
        ListsRefused: anything is wrong; it carries every fault.
    """
    named = ZoneInfo(zone) if isinstance(zone, str) else zone
    return examine(folder, plant, Occasion(at_utc, named, before)).lists


def examine(folder: Path, plant: str, occasion: Occasion) -> Examined:
    """Return the lists of `folder` as `occasion` would take them over.

    Raises:
        ListsRefused: anything is wrong; it carries every fault.
    """
    settings = Settings()
    given = gather(folder, settings)
    faults = list(given.faults)
    by_name = {file.list_name: file for file in given.files}
    draft = Draft({table.name: _read(table, by_name.get(table.name), occasion, settings) for table in TABLES})
    draft = fill_in(draft, occasion.entries_before("characteristics"))
    for table in TABLES:
        faults.extend(draft.lists[table.name].faults)
    faults.extend(check_whole(draft))
    faults.extend(check_limits(draft))
    faults.extend(check_changes(draft, occasion))
    if occasion.by is not None:
        faults.extend(check_people(draft, occasion))
    if faults:
        raise ListsRefused(sorted(faults, key=_in_reading_order))
    return Examined(_lists(draft, plant, occasion), given.files, changed_lists(draft, occasion))


def write_csv(lists: Lists, folder: Path) -> None:
    """Write every list as a CSV file that `check_lists` reads back to the same lists; made for a first look or start.

    Files of the same names are written over.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        write_rows(folder / f"{table.name}.csv", rows_as_text(table, getattr(lists, table.field)))


def _read(table: ListTable, file: GivenFile | None, occasion: Occasion, settings: Settings) -> ReadList:
    if file is None:
        return keep_list(table, occasion.entries_before(table.name))
    grid = read_workbook(file, settings) if file.is_workbook else read_csv(file, settings)
    return read_list(table, grid, occasion.zone)


def _lists(draft: Draft, plant: str, occasion: Occasion) -> Lists:
    version = 1 if occasion.before is None else occasion.before.version + 1
    return Lists(
        plant=plant,
        zone=_zone_name(occasion.zone),
        version=version,
        taken_over_at=write_time(occasion.at.astimezone(occasion.zone)),
        **{table.field: tuple(row.entry for row in draft.lists[table.name].rows) for table in TABLES},
    )


def _zone_name(zone: tzinfo) -> str:
    return str(zone)


def _in_reading_order(fault: Fault) -> tuple[str, int, str]:
    return fault.file, fault.row or 0, fault.column or ""
