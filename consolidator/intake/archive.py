"""The archive of pages: what close of day is handed for one production day, as known at one moment.

Owns choosing; must not judge anything.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from types import TracebackType
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.intake import enrolment
from consolidator.intake.carry_log import milliseconds
from consolidator.intake.catalogue import CONFLICT, Span
from consolidator.intake.held import (
    CONTACTS_SCHEMA,
    READINGS_SCHEMA,
    Altered,
    Conflict,
    Held,
    HeldPage,
    Kiosk,
    Run,
    Unfit,
    Unknown,
)
from consolidator.intake.receiving import Intake
from consolidator.intake.screened import ACTS, READINGS, folder_of, read_file, screen, uses_of
from consolidator.plant import Plant
from kiosk.pages import Page
from kiosk.times import day_bounds_utc, read_time

FLEETING: Final = (
    "acceptance run begun", "acceptance run signed", "asked again", "badge in", "badge out", "gauge scan",
    "gauge study end", "gauge study order", "gauge study reading", "job open", "ledger read", "lists taken",
    "machine counter", "measuring order", "message to station", "power on", "remark", "run again", "sample end",
    "stop", "store change",
)  # fmt: skip
"""Kinds of acts that mean nothing to a day long after theirs."""
_MINUTE_MS: Final = 60_000
_FAR_MS: Final = 2**60


@dataclass(frozen=True)
class _Clocks:
    """What contacts say of the kiosks' clocks up to a moment; differences in ms, consolidator less kiosk."""

    differences: dict[str, list[int]]
    """By series, every difference met, each to the whole minute below."""
    zero_of: dict[tuple[str, int], int]
    """Consolidator time at running time 0, by series and session."""


class Archive:
    """All pages held by one plant; use as a context, it keeps the catalogue open."""

    def __init__(self, plant: Plant, intake: Intake | None = None) -> None:
        self._intake = intake or Intake(plant)
        self._plant = plant

    def __enter__(self) -> "Archive":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._intake.close()

    def held(self, day: date, *, by_utc: datetime) -> Held:
        """Return everything received not after `by_utc` that may matter to production day `day`.

        Pages not screened yet are screened first.
        """
        screen(self._intake)
        by_ms = milliseconds(by_utc.astimezone(UTC))
        with self._intake.writing():
            clocks = self._clocks(by_ms)
            return Held(
                readings=self._readings(day, by_ms, clocks),
                acts=self._acts(day, by_ms, clocks),
                contacts=self._contacts(by_ms),
                kiosks=self._kiosks(by_ms),
                runs=self._runs(by_ms),
                conflicts=self._conflicts(by_ms),
                altered=self._altered(by_ms),
                unknown=self._unknown(by_ms),
            )

    def told(self, kinds: Collection[str], *, by_utc: datetime) -> Held:
        """Return all acts of some kinds of all days, and what is known of how pages came in; no readings.

        For a look-back, which then asks for the readings of the gauges it is about.
        """
        screen(self._intake)
        by_ms = milliseconds(by_utc.astimezone(UTC))
        with self._intake.writing():
            return Held(
                readings=READINGS_SCHEMA.empty_table(),
                acts=_pages_in(self._act_tables(), lambda table: pc.is_in(table["kind"], pa.array(kinds)), by_ms),
                contacts=self._contacts(by_ms),
                kiosks=self._kiosks(by_ms),
                runs=self._runs(by_ms),
                conflicts=self._conflicts(by_ms),
                altered=self._altered(by_ms),
                unknown=self._unknown(by_ms),
            )

    def readings_with(
        self, numbers: Collection[str], *, since_utc: datetime | None, by_utc: datetime, pages: Collection[str] = ()
    ) -> pa.Table:
        """Return the readings of all days in which any of the gauges or masters is named, by `READINGS_SCHEMA`.

        Those whose time may lie at or after `since_utc` (none: all), received not after `by_utc`; and with them
        the `pages` named, and readings that take another's place in a sample, whatever they were taken with.
        """
        screen(self._intake)
        since_ms = -_FAR_MS if since_utc is None else milliseconds(since_utc.astimezone(UTC))
        by_ms = milliseconds(by_utc.astimezone(UTC))
        parts: list[pa.Table] = []
        with self._intake.writing():
            clocks = self._clocks(by_ms)
            for name, spans in self._intake.catalogue.spans(READINGS).items():
                if not any(_may_reach(span, since_ms, _FAR_MS, clocks) for span in spans):
                    continue
                table = read_file(folder_of(self._intake) / name)
                named = pc.or_(_names_one(table["gauge"], numbers), _names_one(table["master"], numbers))
                also = pc.or_(pc.is_valid(table["replaces"]), _is_one_of(table, pages))
                is_known = pc.less_equal(table["received_at_ms"], by_ms)
                wanted = table.filter(pc.and_(pc.or_(named, also), is_known))
                parts.append(wanted.filter(pa.array(_reaching(wanted, since_ms, _FAR_MS, clocks))))
        if not any(len(part) for part in parts):
            return READINGS_SCHEMA.empty_table()
        return _in_order(pa.concat_tables(parts).unify_dictionaries().combine_chunks())

    def uses(self, since_ms: Mapping[str, int], before_ms: int, *, by_utc: datetime) -> dict[str, int]:
        """Return how many readings name each gauge, made since its moment and before `before_ms`, by kiosks' clocks."""
        screen(self._intake)
        ends = before_ms, milliseconds(by_utc.astimezone(UTC))
        with self._intake.writing():
            return uses_of(self._intake, since_ms, ends)

    def span_received(self, *, since_utc: datetime, by_utc: datetime) -> tuple[date, date] | None:
        """Return first and last local date of the pages received after `since_utc` and not after `by_utc`.

        By the kiosks' clocks, put right or not; none when nothing came.
        """
        screen(self._intake)
        since_ms, by_ms = milliseconds(since_utc), milliseconds(by_utc)
        ends: list[int] = []
        with self._intake.writing():
            clocks = self._clocks(by_ms)
            shifts = (0, *(each for found in clocks.differences.values() for each in found))
            for kind in (READINGS, ACTS):
                for name in self._intake.catalogue.file_names(kind):
                    table = read_file(folder_of(self._intake) / name).select(["received_at_ms", "kiosk_time_ms"])
                    received = _numbers(table, "received_at_ms")
                    times = _numbers(table, "kiosk_time_ms")[(received > since_ms) & (received <= by_ms)]
                    if len(times):
                        ends += [int(times.min()) + min(shifts), int(times.max()) + max(shifts)]
        if not ends:
            return None
        zone = self._plant.zone
        return _moment(min(ends)).astimezone(zone).date(), _moment(max(ends)).astimezone(zone).date()

    def _clocks(self, by_ms: int) -> _Clocks:
        differences: dict[str, list[int]] = {}
        question = "SELECT series,minutes FROM differences WHERE first_ms<=? ORDER BY series,minutes"
        for series, minutes in self._ask(question, by_ms):
            differences.setdefault(series, []).append(minutes * _MINUTE_MS)
        question = "SELECT series,session,consolidator_ms,running_ms FROM sessions WHERE consolidator_ms<=?"
        rows = self._ask(question, by_ms)
        return _Clocks(differences, {(series, session): at - running for series, session, at, running in rows})

    def _readings(self, day: date, by_ms: int, clocks: _Clocks) -> pa.Table:
        start, end = (milliseconds(moment) for moment in day_bounds_utc(day, self._plant.zone))
        start -= self._intake.settings.held_before_h * 60 * _MINUTE_MS
        end += self._intake.settings.held_after_h * 60 * _MINUTE_MS
        folder = folder_of(self._intake)
        parts: list[pa.Table] = []
        for name, spans in self._intake.catalogue.spans(READINGS).items():
            if any(_may_reach(span, start, end, clocks) for span in spans):
                table = read_file(folder / name)
                keep = _reaching(table, start, end, clocks) & (_numbers(table, "received_at_ms") <= by_ms)
                parts.append(table if keep.all() else table.filter(pa.array(keep)))
        if not parts:
            return READINGS_SCHEMA.empty_table()
        return _in_order(pa.concat_tables(parts).unify_dictionaries().combine_chunks())

    def _acts(self, day: date, by_ms: int, clocks: _Clocks) -> tuple[HeldPage, ...]:
        days_back = timedelta(days=self._intake.settings.held_acts_before_d)
        since = milliseconds(day_bounds_utc(day, self._plant.zone)[0] - days_back)

        def may_matter(table: pa.Table) -> pa.ChunkedArray:
            is_old = pa.array(~_reaching(table, since, _FAR_MS, clocks))
            return pc.invert(pc.and_(pc.is_in(table["kind"], pa.array(FLEETING)), is_old))

        return _pages_in(self._act_tables(), may_matter, by_ms)

    def _act_tables(self) -> Iterator[pa.Table]:
        for name in self._intake.catalogue.file_names(ACTS):
            yield read_file(folder_of(self._intake) / name)

    def _contacts(self, by_ms: int) -> pa.Table:
        question = (
            "SELECT series,session,consolidator_ms,kiosk_ms,running_ms FROM contacts WHERE consolidator_ms<=? "
            "ORDER BY series,consolidator_ms,session,running_ms"
        )
        rows = self._ask(question, by_ms)
        columns = list(zip(*rows, strict=True)) if rows else [()] * len(CONTACTS_SCHEMA)
        return pa.table([pa.array(c, f.type) for c, f in zip(columns, CONTACTS_SCHEMA, strict=True)], CONTACTS_SCHEMA)

    def _kiosks(self, by_ms: int) -> tuple[Kiosk, ...]:
        contacts = dict(
            self._ask(
                "SELECT series,MAX(consolidator_ms) FROM contacts WHERE consolidator_ms<=? GROUP BY series", by_ms
            )
        )
        arrivals = dict(
            self._ask("SELECT series,MAX(received_ms) FROM arrived WHERE received_ms<=? GROUP BY series", by_ms)
        )
        found: list[Kiosk] = []
        for each in enrolment.all_enrolled(self._plant):
            enrolled_at = read_time(each.enrolled_at)
            if milliseconds(enrolled_at) > by_ms:
                continue
            withdrawn_at = None if each.withdrawn_at is None else read_time(each.withdrawn_at)
            is_withdrawn = withdrawn_at is not None and milliseconds(withdrawn_at) <= by_ms
            found.append(
                Kiosk(
                    series=each.series,
                    station=each.station,
                    public_key=each.signs,
                    enrolled_at=enrolled_at,
                    withdrawn_at=withdrawn_at if is_withdrawn else None,
                    last_contact_at=_moment_or_none(contacts.get(each.series)),
                    last_arrival_at=_moment_or_none(arrivals.get(each.series)),
                )
            )
        return tuple(found)

    def _runs(self, by_ms: int) -> dict[str, tuple[Run, ...]]:
        rows = self._ask("SELECT series,first,last FROM arrived WHERE received_ms<=? ORDER BY series,first,last", by_ms)
        joined: dict[str, list[Run]] = {}
        for series, first, last in rows:
            runs = joined.setdefault(series, [])
            if runs and first <= runs[-1].last + 1:
                runs[-1] = Run(runs[-1].first, max(runs[-1].last, last))
            else:
                runs.append(Run(first, last))
        return {series: tuple(runs) for series, runs in joined.items()}

    def _conflicts(self, by_ms: int) -> tuple[Conflict, ...]:
        question = (
            "SELECT series,number,fingerprint,found_ms FROM findings WHERE unfit=? AND found_ms<=? "
            "ORDER BY series,number,fingerprint"
        )
        prints: dict[tuple[str, int], list[tuple[str, int]]] = {}
        for series, number, print_, found_ms in self._ask(question, CONFLICT, by_ms):
            prints.setdefault((series, number), []).append((print_, found_ms))
        return tuple(
            Conflict(series, number, tuple(p for p, _ in each), _moment(min(ms for _, ms in each)))
            for (series, number), each in prints.items()
        )

    def _altered(self, by_ms: int) -> tuple[Altered, ...]:
        question = (
            "SELECT series,number,fingerprint,unfit,why,found_ms FROM findings WHERE unfit<>? AND found_ms<=? "
            "ORDER BY series,number,unfit,fingerprint"
        )
        rows = self._ask(question, CONFLICT, by_ms)
        return tuple(
            Altered(series, number, print_, Unfit(unfit), why, _moment(found_ms))
            for series, number, print_, unfit, why, found_ms in rows
        )

    def _unknown(self, by_ms: int) -> tuple[Unknown, ...]:
        question = (
            "SELECT series,first,last,received_ms,is_withdrawn,file FROM unknown WHERE received_ms<=? "
            "ORDER BY series,first,last,received_ms,file"
        )
        return tuple(
            Unknown(series or "", first or 0, last or 0, _moment(received_ms), bool(withdrawn), file)
            for series, first, last, received_ms, withdrawn, file in self._ask(question, by_ms)
        )

    def _ask(self, question: str, *values: int | str) -> list[tuple]:  # type: ignore[type-arg]
        return self._intake.catalogue.ask(question, *values)


def _pages_in(
    tables: Iterable[pa.Table], wanted: Callable[[pa.Table], pa.ChunkedArray], by_ms: int
) -> tuple[HeldPage, ...]:
    """Return the pages of the rows wanted, received not after a moment, by series, number and fingerprint."""
    found: list[tuple[str, int, str, HeldPage]] = []
    for table in tables:
        rows = table.filter(pc.and_(wanted(table), pc.less_equal(table["received_at_ms"], by_ms)))
        for row in rows.select(["series", "number", "fingerprint", "received_at_ms", "page"]).to_pylist():
            held = HeldPage(Page.model_validate_json(row["page"]), row["fingerprint"], _moment(row["received_at_ms"]))
            found.append((row["series"], row["number"], row["fingerprint"], held))
    return tuple(each[3] for each in sorted(found, key=lambda each: each[:3]))


def _names_one(column: pa.ChunkedArray, numbers: Collection[str]) -> pa.ChunkedArray:
    """Tell for each row whether it has one of the numbers; each distinct word is looked at once."""
    whole = column.unify_dictionaries().combine_chunks()
    places = [at for at, word in enumerate(whole.dictionary.to_pylist()) if word in numbers]
    return pc.fill_null(pc.is_in(whole.indices, pa.array(places, whole.indices.type)), False)


def _is_one_of(table: pa.Table, pages: Collection[str]) -> pa.ChunkedArray | pa.Scalar:
    """Tell for each row whether it is one of the pages named, e.g. `S12-a/1877`."""
    found: pa.ChunkedArray | pa.Scalar = pa.scalar(False)
    for series in sorted({page.rpartition("/")[0] for page in pages}):
        numbers = [int(page.rpartition("/")[2]) for page in pages if page.rpartition("/")[0] == series]
        is_series = _names_one(table["series"], {series})
        found = pc.or_(found, pc.and_(is_series, pc.is_in(table["number"], pa.array(numbers, pa.int64()))))
    return found


def _may_reach(span: Span, start_ms: int, end_ms: int, clocks: _Clocks) -> bool:
    for low in (-_MINUTE_MS, *clocks.differences.get(span.series, ())):
        if span.kiosk_to_ms + low + 2 * _MINUTE_MS > start_ms and span.kiosk_from_ms + low < end_ms:
            return True
    zero = clocks.zero_of.get((span.series, span.session))
    return zero is not None and zero + span.running_to_ms >= start_ms and zero + span.running_from_ms < end_ms


def _reaching(table: pa.Table, start_ms: int, end_ms: int, clocks: _Clocks) -> npt.NDArray[np.bool_]:
    """Return which rows may lie in the span: by their clock as it stood, put right, or by their running time."""
    kiosk_ms = _numbers(table, "kiosk_time_ms")
    keep: npt.NDArray[np.bool_] = (kiosk_ms >= start_ms) & (kiosk_ms < end_ms)
    if keep.all():
        return keep
    series = table["series"].combine_chunks()
    series = series if pa.types.is_dictionary(series.type) else series.dictionary_encode()
    codes = series.indices.to_numpy(zero_copy_only=False)
    sessions, running_ms = _numbers(table, "session"), _numbers(table, "running_ms")
    for code, name in enumerate(series.dictionary.to_pylist()):
        places = np.flatnonzero((codes == code) & ~keep)
        times = kiosk_ms[places]
        found = np.zeros(len(places), np.bool_)
        for low in clocks.differences.get(name, ()):
            found |= (times + low + _MINUTE_MS > start_ms) & (times + low < end_ms)
        for session in np.unique(sessions[places]):
            zero = clocks.zero_of.get((name, int(session)))
            if zero is not None:
                by_running = zero + running_ms[places]
                found |= (sessions[places] == session) & (by_running >= start_ms) & (by_running < end_ms)
        keep[places] = found
    return keep


def _numbers(table: pa.Table, name: str) -> npt.NDArray[np.int64]:
    found: npt.NDArray[np.int64] = table[name].to_numpy()
    return found


def _in_order(table: pa.Table) -> pa.Table:
    """Return the rows in the order series, number, fingerprint."""
    series = table["series"].combine_chunks()
    names = np.array(series.dictionary.to_pylist(), dtype=object)
    rank = np.empty(len(names), np.int64)
    rank[np.argsort(names)] = np.arange(len(names))
    codes = rank[series.indices.to_numpy(zero_copy_only=False)]
    numbers = _numbers(table, "number")
    is_ready = bool(np.all((codes[1:] > codes[:-1]) | ((codes[1:] == codes[:-1]) & (numbers[1:] > numbers[:-1]))))
    if is_ready:
        return table
    order = np.lexsort((numbers, codes))
    ties = (codes[order][1:] == codes[order][:-1]) & (numbers[order][1:] == numbers[order][:-1])
    if ties.any():
        prints = table["fingerprint"].to_numpy()
        order = np.lexsort((prints.astype(str), numbers, codes))
    return table.take(pa.array(order))


def _moment(ms: int) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)


def _moment_or_none(ms: int | None) -> datetime | None:
    return None if ms is None else _moment(ms)
