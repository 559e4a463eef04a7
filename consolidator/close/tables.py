"""The tables of readings and acts of a closed day, every cell as text.

Owns what each column shows. Figures and times are shown as they were compared, never rounded.
"""

import json
from collections.abc import Sequence
from datetime import date
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import rfc8785

from consolidator.close.clock_text import local_text, local_texts
from consolidator.close.columns import ACT_COLUMNS, READING_COLUMNS
from consolidator.close.judging import STANDINGS, Judging
from consolidator.frame import Day
from consolidator.frame.coded import Coded, Ints, distinct
from consolidator.frame.verdicts import VERDICTS
from consolidator.frame.words import offsets_min
from consolidator.frame.world import ActAt
from consolidator.rules.people import countersigns
from kiosk.pages import Act
from kiosk.pages.readings import Correction

_SECTION_OF: Final = {
    "check": "checks",
    "set-up start": "set-ups",
    "set-up change": "set-ups",
    "set-up end": "set-ups",
    "first-piece approval": "set-ups",
    "test record": "set-ups",
    "calibration": "calibrations",
    "extension": "calibrations",
    "gauge state": "calibrations",
    "gauge movement": "calibrations",
    "gauge incident": "calibrations",
    "look-back window": "calibrations",
    "exception step": "exceptions",
    "exception close": "exceptions",
    "evaluation": "exceptions",
    "customer notice": "exceptions",
    "disposition": "dispositions",
    "correction": "dispositions",
    "release": "dispositions",
    "second signature": "dispositions",
    "re-measure order": "dispositions",
    "hold": "dispositions",
    "hold lift": "dispositions",
    "pages lost": "dispositions",
    "lot close": "lots",
    "lot re-open": "lots",
    "lot ship": "lots",
    "operation sign-off": "lots",
    "piece count": "lots",
    "heat scan": "lots",
    "lists taken over": "lists",
    "lists taken": "lists",
    "kiosk enrolled": "lists",
    "kiosk withdrawn": "lists",
    "seal": "seals",
    "ledger read": "seals",
}
"""The ledger section of each kind of act; any other stands under `station`."""


def ledger_order(day: Day) -> Ints:
    """Return the rows of the day in ledger order: lot, operation, characteristic, effective time, kiosk, page."""
    rows = np.flatnonzero(day.is_in_day)
    pages = day.pages
    # Rows stand in page order already; two pages of one number stay in the order of their fingerprints.
    keys = (pages.series.codes, day.ms, pages.characteristic.codes, pages.operation.codes, pages.lot.codes)
    order = np.lexsort((rows, *(key[rows] for key in keys)))
    return rows[order].astype(np.int64)


def reading_table(judging: Judging, rows: Ints, exceptions: Coded) -> pa.Table:
    """Return the table of readings; `exceptions` holds the text of that cell for each row of the night."""
    day, pages = judging.day, judging.day.pages
    said = {
        # First, as putting these in order takes room for a moment that the columns after it use again.
        "fingerprint": pages.fingerprint.take(pa.array(rows)),
        **_page_cells(day, rows),
        **_plan_cells(day, rows),
        **_gauge_cells(day, rows),
        "verdict_at_kiosk": _column(pages.verdict, rows),
        "verdict": _pointed([str(verdict) for verdict in VERDICTS], day.verdicts.verdict[rows]),
        "standing": _pointed([str(standing) for standing in STANDINGS], judging.standing[rows]),
        "exceptions": _column(exceptions, rows),
        "settled_by": _sparse(len(pages), rows, _settled_by(judging)),
        "remark": _column(pages.remark, rows),
    }
    return pa.table({name: said[name] for name in READING_COLUMNS})


def _page_cells(day: Day, rows: Ints) -> dict[str, Any]:
    pages, zone = day.pages, day.world.zone
    words = ("station", "lot", "part", "operation", "set_up", "sample_kind", "position", "characteristic", "unit")
    cells: dict[str, Any] = {name: _column(getattr(pages, name), rows) for name in words}
    ms, kiosk_ms = day.ms[rows], pages.kiosk_time_ms[rows]
    return cells | {
        "plant": _pointed([day.world.lists.plant], np.zeros(len(rows), np.int64)),
        "production_day": _pointed([day.world.day.isoformat()], np.zeros(len(rows), np.int64)),
        "effective_time": local_texts(ms, offsets_min(ms, zone)),
        "kiosk_time": local_texts(kiosk_ms, pages.kiosk_offset_min[rows]),
        "kiosk": _column(pages.series, rows),
        "page": pc.cast(pa.array(pages.number[rows]), pa.string()),
        "sample": _whole(pages.sample[rows]),
        "piece": _whole(pages.piece[rows]),
        "keyed": _keyed(day, rows),
        "value": _column(day.values.text, rows),
        "computed_from": _column(day.values.computed_from, rows),
        "part_temperature": _temperature(day, rows),
        "person": _column(pages.person, rows),
        "countersign": _sparse(len(pages), rows, countersigns(day)),
        "source": _column(pages.source, rows),
    }


def _plan_cells(day: Day, rows: Ints) -> dict[str, Any]:
    plans = day.plans
    row = plans.characteristic_row[rows]
    return {
        "revision": _column(plans.revision, rows),
        "heat": _pointed([lot.heat or "" for lot in plans.lots], plans.lot_row[rows]),
        "characteristic_name": _pointed([c.name for c in plans.characteristics], row),
        "lower_limit": _pointed([c.lower or "" for c in plans.characteristics], row),
        "upper_limit": _pointed([c.upper or "" for c in plans.characteristics], row),
        "shop_limit": _pointed([c.shop_limit or "" for c in plans.characteristics], row),
    }


def _gauge_cells(day: Day, rows: Ints) -> dict[str, Any]:
    gauge, ms = day.pages.gauge.codes[rows], day.ms[rows]
    due_steps, _, dates = day.gauges.dues
    steps, known = day.gauges.calibrations
    is_known = day.gauge_row[rows] >= 0
    after = steps.after(gauge, ms)
    named = ["not yet", *(c.after_words for c in known)]
    masters = [master.number for master in day.values.masters]
    scanned = Coded(day.pages.master.codes[rows], day.pages.master.labels)
    labels = [*scanned.labels, *masters]
    is_used = np.array([way.master is not None for way in day.values.ways], bool)[day.values.way[rows]]
    of_register = np.where(is_used, day.values.master_row[rows] + len(scanned.labels), -1)
    place = np.where(scanned.codes >= 0, scanned.codes, of_register)
    return {
        "gauge": _column(day.pages.gauge, rows),
        "gauge_kind": _pointed([str(g.kind) for g in day.gauges.rows], day.gauge_row[rows]),
        "master": _pointed(labels, place),
        "calibrated_before": _pointed([c.before_words for c in known], steps.at(gauge, ms)),
        "due": _pointed([_date(due) for due in dates], np.where(is_known, due_steps.at(gauge, ms), -1)),
        "calibrated_after": _pointed(named, np.where(is_known | (after >= 0), after + 1, -1)),
    }


def act_table(day: Day, acts: Sequence[ActAt], numbers_of: dict[str, str]) -> pa.Table:
    """Return the table of acts and of readings that a later page took the place of; `numbers_of` by page."""
    told = [(act.sort_key, _act_cells(day, act)) for act in acts] + _replaced(day)
    rows = [cells for _, cells in sorted(told, key=lambda each: each[0])]
    for cells in rows:
        cells["exceptions"] = numbers_of.get(f"{cells['kiosk']}/{cells['page']}", "")
    return pa.table({name: pa.array([cells[name] for cells in rows], pa.string()) for name in ACT_COLUMNS})


def acts_of_day(day: Day) -> list[ActAt]:
    """Return the act pages whose effective time lies in the production day."""
    return [act for act in day.world.acts.all if day.world.start_ms <= act.at_ms < day.world.end_ms]


def replaced_rows(day: Day) -> Ints:
    """Return the readings of the day that a later page of their sample took the place of."""
    here = (day.ms >= day.world.start_ms) & (day.ms < day.world.end_ms)
    return np.flatnonzero(here & (day.replaced_by >= 0))


def _act_cells(day: Day, at: ActAt) -> dict[str, str]:
    page, act = at.page, at.page.act
    return {
        "plant": day.world.lists.plant,
        "production_day": day.world.day.isoformat(),
        "effective_time": local_text(at.at_ms, day.world.zone),
        "kiosk_time": page.kiosk_time,
        "station": page.station,
        "kiosk": page.series,
        "page": str(page.number),
        "section": _SECTION_OF.get(act.kind, "station"),
        "kind": act.kind,
        "lot": _named(act, "lot", "to_lot"),
        "part": _named(act, "part"),
        "operation": _named(act, "operation"),
        "set_up": _named(act, "set_up"),
        "characteristic": _named(act, "characteristic"),
        "gauge": _named(act, "gauge"),
        "person": page.person or "",
        "content": rfc8785.dumps(act.model_dump(mode="json", exclude_none=True)).decode(),
        "fingerprint": at.fingerprint,
    }


def _named(act: Act, *names: str) -> str:
    return next((str(value) for name in names if (value := getattr(act, name, None)) is not None), "")


def _replaced(day: Day) -> list[tuple[tuple[int, str, int, str], dict[str, str]]]:
    pages, told = day.pages, []
    words = ("lot", "part", "operation", "set_up", "characteristic", "gauge", "person")
    for row in replaced_rows(day).tolist():
        cells = {name: getattr(pages, name).at(row) for name in words}
        by = pages.ref(int(day.replaced_by[row]))
        content = {
            "kind": "reading",
            "lot": cells["lot"],
            "keyed": pages.keyed.at(row),
            "keyed_as": pages.keyed_as.at(row),
            "unit": pages.unit.at(row),
            "sample": int(pages.sample[row]),
            "piece": int(pages.piece[row]),
            "verdict": pages.verdict.at(row),
            "replaced_by": by,
        }
        kiosk_ms, offset = pages.kiosk_time_ms[row : row + 1], pages.kiosk_offset_min[row : row + 1]
        cells |= {
            "plant": day.world.lists.plant,
            "production_day": day.world.day.isoformat(),
            "effective_time": local_text(int(day.ms[row]), day.world.zone),
            "kiosk_time": local_texts(kiosk_ms, offset)[0].as_py(),
            "station": pages.station.at(row),
            "kiosk": pages.series.at(row),
            "page": str(int(pages.number[row])),
            "section": "re-keyed",
            "kind": "reading",
            "content": rfc8785.dumps(content).decode(),
            "fingerprint": pages.fingerprint[row].as_py(),
        }
        told.append(((int(day.ms[row]), cells["kiosk"], int(pages.number[row]), cells["fingerprint"]), cells))
    return told


def _column(column: Coded, rows: Ints) -> pa.Array:
    return _pointed(list(column.labels), column.codes[rows])


def _pointed(labels: list[str], place: np.ndarray) -> pa.Array:
    """Return text by its place in `labels`, empty for -1, as codes into the distinct texts."""
    words = ["", *dict.fromkeys(label for label in labels if label)]
    at = {word: code for code, word in enumerate(words)}
    table = np.array([*(at[label] for label in labels), 0], np.int32)
    return pa.DictionaryArray.from_arrays(pa.array(table[place], pa.int32()), pa.array(words, pa.string()))


def _whole(numbers: Ints) -> pa.Array:
    values, place = distinct(numbers)
    return _pointed([str(value) for value in values.tolist()], place)


def _sparse(count: int, rows: Ints, said: dict[int, str]) -> pa.Array:
    """Return text that few rows have."""
    labels = sorted(set(said.values()))
    place = np.full(count, -1, np.int64)
    for row, text in said.items():
        place[row] = labels.index(text)
    return _pointed(labels, place[rows])


def _keyed(day: Day, rows: Ints) -> pa.Array:
    """Return every keying, oldest first; earlier pages whose place this one took come before its own."""
    pages = day.pages
    texts = [[keying["text"] for keying in json.loads(text)] for text in pages.earlier.labels]
    has_more = (pages.earlier.codes >= 0) | (day.replaces >= 0)
    labels, place = list(pages.keyed.labels), pages.keyed.codes.astype(np.int64)
    for row in rows[has_more[rows]].tolist():
        keyed: list[str] = []
        at = row
        while at >= 0:
            code = int(pages.earlier.codes[at])
            keyed = [*(texts[code] if code >= 0 else []), pages.keyed.at(at), *keyed]
            at = int(day.replaces[at])
        place[row] = len(labels)
        labels.append(" → ".join(keyed))
    return _pointed(labels, place[rows])


def _temperature(day: Day, rows: Ints) -> pa.Array:
    part, unit = day.pages.part_temperature, day.pages.temperature_unit
    given = np.flatnonzero(part.is_given)
    return _sparse(len(day.pages), rows, {row: f"{part.at(row)} {unit.at(row)}".strip() for row in given.tolist()})


def _settled_by(judging: Judging) -> dict[int, str]:
    """Return the pages that released or corrected a reading."""
    said = dict(judging.released_by)
    day = judging.day
    corrected: dict[str, list[str]] = {}
    for act, correction in day.world.acts.of(Correction):
        corrected.setdefault(correction.of, []).append(act.ref)
    for row, bearing in day.corrected.items():
        mine = corrected.setdefault(day.pages.ref(row), [])
        mine += [page for page in bearing.split(";") if page not in mine]
    if corrected:
        row_of = {day.pages.ref(row): row for row in np.flatnonzero(day.is_in_day).tolist()}
        for ref, pages in corrected.items():
            if ref in row_of:
                row = row_of[ref]
                said[row] = ";".join([*([said[row]] if row in said else []), *pages])
    return said


def _date(due: date | None) -> str:
    return "" if due is None else due.isoformat()
