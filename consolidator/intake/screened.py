"""The screened store: pages parsed and checked as they arrive, so that close of day only judges and writes.

Files of dictionary-encoded columns below `intake/screened/`; all of it can be made again from the packets.
Owns those files. Must not know what a rule needs of them.
"""

import hashlib
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.intake.catalogue import Arrival, Span
from consolidator.intake.held import READINGS_SCHEMA, Unfit
from consolidator.intake.receiving import Intake
from consolidator.intake.screening import ACTS_SCHEMA, READING_MARK, Arrived, acts_frame, readings_frame

READINGS: Final = "readings"
ACTS: Final = "acts"
_SCHEMAS: Final = {READINGS: READINGS_SCHEMA, ACTS: ACTS_SCHEMA}


def screen(intake: Intake) -> int:
    """Screen every page that was taken in and not screened yet; return how many pages that were.

    Cut short at any moment it goes on where the catalogue says, and no page is screened twice.
    """
    pages = 0
    with intake.writing():
        while arrivals := intake.catalogue.to_screen(intake.settings.intake_screen_pages):
            pages += _screen_some(intake, arrivals)
        for kind in _SCHEMAS:
            _join_small_files(intake, kind)
    return pages


def rebuild(intake: Intake) -> int:
    """Make the catalogue and the screened store anew from the logs and the packets; return how many pages."""
    with intake.writing():
        with intake.catalogue as catalogue:
            catalogue.forget()
        for path in folder_of(intake).glob("*.arrow"):
            path.unlink()
        intake.catch_up()
        return screen(intake)


def folder_of(intake: Intake) -> Path:
    """Return where screened files lie."""
    return intake.plant.intake / "screened"


def read_file(path: Path) -> pa.Table:
    """Return one screened file, its columns in memory the operating system shares with it."""
    with pa.memory_map(str(path)) as mapped:
        return pa.ipc.open_file(mapped).read_all()


def uses_of(intake: Intake, since_ms: Mapping[str, int], ends_ms: tuple[int, int]) -> dict[str, int]:
    """Count the readings that name each gauge since its moment: made before one end, and received by the other.

    Looks at four columns of each file only; a reading keyed anew in the place of another counts once.
    """
    before_ms, by_ms = ends_ms
    found, wanted = dict.fromkeys(since_ms, 0), pa.array(sorted(since_ms), pa.string())
    first_ms = min(since_ms.values(), default=before_ms)
    for name, spans in intake.catalogue.spans(READINGS).items():
        if not any(span.kiosk_to_ms > first_ms and span.kiosk_from_ms < before_ms for span in spans):
            continue
        table = read_file(folder_of(intake) / name).select(["gauge", "kiosk_time_ms", "received_at_ms", "replaces"])
        is_known = pc.and_(pc.less_equal(table["received_at_ms"], by_ms), pc.less(table["kiosk_time_ms"], before_ms))
        table = table.filter(pc.and_(is_known, pc.is_null(table["replaces"])))
        table = table.filter(pc.is_in(table["gauge"].cast(pa.string()), wanted))
        gauges, times = table["gauge"].cast(pa.string()), table["kiosk_time_ms"]
        for gauge in gauges.unique().to_pylist():
            is_mine = pc.and_(pc.equal(gauges, gauge), pc.greater(times, since_ms[gauge]))
            found[gauge] += int(pc.sum(is_mine).as_py() or 0)
    return found


def _screen_some(intake: Intake, arrivals: list[Arrival]) -> int:
    readings: list[Arrived] = []
    acts: list[Arrived] = []
    for arrived in _pages_of(intake, arrivals):
        (readings if READING_MARK in arrived.page else acts).append(arrived)
    with intake.catalogue as catalogue:
        for kind, (table, faults) in ((READINGS, readings_frame(readings)), (ACTS, acts_frame(acts))):
            for each, why in faults:
                catalogue.find(each.series, each.number, Unfit.CONTENT, each.fingerprint, why, each.received_ms)
            if table.num_rows:
                _write(intake, kind, table)
        catalogue.set_progress("screened", arrivals[-1].number)
    return len(readings) + len(acts)


def _pages_of(intake: Intake, arrivals: Iterable[Arrival]) -> Iterable[Arrived]:
    for arrival in arrivals:
        packet = intake.packet_at(arrival)
        # The packet's own fingerprint was checked just now, so those of its pages are what they were on arrival.
        prints = packet.fingerprints
        if intake.catalogue.has_altered(arrival):
            prints = tuple(hashlib.sha256(page).hexdigest() for page in packet.pages)
        for run in arrival.take:
            for number in range(run.first, run.last + 1):
                place = number - arrival.first
                yield Arrived(arrival.series, number, prints[place], arrival.received_ms, packet.pages[place])


def _write(intake: Intake, kind: str, table: pa.Table) -> str:
    """Write one file whole and note it in the catalogue, inside the catalogue's change."""
    count = intake.catalogue.progress("file") + 1
    intake.catalogue.set_progress("file", count)
    name = f"{kind}-{count:08d}.arrow"
    path = folder_of(intake) / name
    coming = path.with_suffix(".coming")
    whole = table.unify_dictionaries().combine_chunks()
    with coming.open("wb") as out:
        with pa.ipc.new_file(out, whole.schema) as writer:
            writer.write_table(whole)
        out.flush()
        os.fsync(out.fileno())
    coming.replace(path)
    intake.catalogue.add_file(name, kind, whole.num_rows, _spans(whole))
    return name


def _spans(table: pa.Table) -> list[Span]:
    """Return first and last times of each series and session in a table."""
    columns = table.select(["series", "session", "kiosk_time_ms", "running_ms"])
    aggregates = [("kiosk_time_ms", "min"), ("kiosk_time_ms", "max"), ("running_ms", "min"), ("running_ms", "max")]
    grouped = columns.set_column(0, "series", columns["series"].cast(pa.string()))
    rows = grouped.group_by(["series", "session"]).aggregate(aggregates)
    names = ["series", "session", "kiosk_time_ms_min", "kiosk_time_ms_max", "running_ms_min", "running_ms_max"]
    return [Span(*row) for row in zip(*(rows[name].to_pylist() for name in names), strict=True)]


def _join_small_files(intake: Intake, kind: str) -> None:
    """Join small files, so that a day stays a few files; the old ones go once the new one is in the catalogue."""
    limit, many = intake.settings.intake_file_rows, intake.settings.intake_files_to_join
    small = [name for name, rows in intake.catalogue.file_rows(kind) if rows < limit]
    if len(small) < many:
        return
    tables = [read_file(folder_of(intake) / name) for name in small]
    with intake.catalogue as catalogue:
        for group in _groups([table.num_rows for table in tables], limit):
            _write(intake, kind, pa.concat_tables([tables[place] for place in group]))
        for name in small:
            catalogue.drop_file(name)
    del tables
    for name in small:
        (folder_of(intake) / name).unlink(missing_ok=True)


def _groups(rows: list[int], limit: int) -> list[list[int]]:
    """Return places in order, cut where a group has reached `limit` rows."""
    ends = np.cumsum(rows)
    group = (ends - np.asarray(rows)) // limit
    return [np.flatnonzero(group == value).tolist() for value in np.unique(group)]
