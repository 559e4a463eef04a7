"""The pages an act of the desk looks at: one page by its name, all acts, and readings that measure a piece again.

Owns finding them, in memory or in the plant's intake. Must not judge anything.
"""

import json
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import pyarrow as pa
import pyarrow.compute as pc

from consolidator.intake import Intake
from consolidator.intake.screened import ACTS, READINGS, folder_of, read_file, screen
from kiosk.errors import PageNotUnderstood
from kiosk.pages import Act, Page, fingerprint, read_page
from kiosk.pages.readings import Reading
from kiosk.times import read_time


@dataclass(frozen=True)
class HeldAct:
    """One page with the fingerprint of its bytes as they were received."""

    page: Page
    fingerprint: str

    @property
    def at(self) -> datetime:
        """The time its book gives it."""
        return read_time(self.page.kiosk_time)


class HeldPages(Protocol):
    """Where the desk finds pages of the whole plant."""

    def page(self, ref: str) -> HeldAct | None:
        """Return the page named, e.g. `S12-a/1877`; none when it is not held."""
        ...

    def acts(self, kinds: Collection[type[Act]] = (), naming: Collection[str] = ()) -> Iterable[HeldAct]:
        """Return pages held that are no readings, in no promised order.

        Of some kinds only, if any are given; and only those in which any of the names stands, if any is given.
        """
        ...

    def re_measures(self, ref: str) -> Iterable[HeldAct]:
        """Return the readings that say they measure the piece of reading `ref` again."""
        ...

    def runs(self, series: str) -> list[tuple[int, int]]:
        """Return the runs of page numbers held of one series, both ends included."""
        ...


class PagesInMemory:
    """Pages given one by one, for a small plant or a test."""

    def __init__(self, pages: Iterable[tuple[Page, bytes]] = ()) -> None:
        self._held: dict[str, tuple[HeldAct, bytes]] = {}
        for page, content in pages:
            self.add(page, content)

    def add(self, page: Page, content: bytes) -> None:
        """Hold one more page."""
        self._held[page.ref] = (HeldAct(page, fingerprint(content)), content)

    def page(self, ref: str) -> HeldAct | None:
        """Return the page named."""
        return self._held[ref][0] if ref in self._held else None

    def acts(self, kinds: Collection[type[Act]] = (), naming: Collection[str] = ()) -> Iterable[HeldAct]:
        """Return pages that are no readings."""
        acts = [each for each in self._held.values() if not isinstance(each[0].page.act, Reading)]
        return chosen(acts, kinds, naming)

    def re_measures(self, ref: str) -> Iterable[HeldAct]:
        """Return the readings that measure the piece of `ref` again."""
        readings = [held for held, _ in self._held.values() if isinstance(held.page.act, Reading)]
        return [held for held in readings if getattr(held.page.act, "re_measure_of", None) == ref]

    def runs(self, series: str) -> list[tuple[int, int]]:
        """Return the runs of page numbers held of one series."""
        runs: list[tuple[int, int]] = []
        for number in sorted(held.page.number for held, _ in self._held.values() if held.page.series == series):
            if runs and number == runs[-1][1] + 1:
                runs[-1] = (runs[-1][0], number)
            else:
                runs.append((number, number))
        return runs


class ArchivedPages:
    """Pages of a plant's intake, each looked up when it is asked for; what came in lately is screened first."""

    def __init__(self, intake: Intake) -> None:
        self._intake = intake

    def page(self, ref: str) -> HeldAct | None:
        """Return the page named, out of the packet it came in."""
        series, _, number = ref.rpartition("/")
        with self._intake.writing():
            longest = self._intake.limits.carry_packet_pages_limit
            arrivals = self._intake.catalogue.packets_over(series, int(number), int(number), longest)
        for arrival in arrivals:
            for content in self._intake.packet_at(arrival).pages:
                page = _page_in(content)
                if page is not None and page.number == int(number):
                    return HeldAct(page, fingerprint(content))
        return None

    def acts(self, kinds: Collection[type[Act]] = (), naming: Collection[str] = ()) -> Iterable[HeldAct]:
        """Return pages held that are no readings; those not asked for are left out before they are parsed."""
        for table in self._tables(ACTS):
            rows = table.select(["kind", "fingerprint", "page"])
            if kinds:
                rows = rows.filter(pc.is_in(rows["kind"], pa.array([_word_of(kind) for kind in kinds])))
            if naming:
                rows = rows.filter(_any_stands_in(rows["page"], naming))
            for row in rows.to_pylist():
                yield HeldAct(Page.model_validate_json(row["page"]), row["fingerprint"])

    def re_measures(self, ref: str) -> Iterable[HeldAct]:
        """Return the readings that measure the piece of `ref` again."""
        for table in self._tables(READINGS):
            found = table.filter(pc.equal(table["re_measure_of"].cast(pa.string()), ref))
            for row in found.select(["series", "number"]).to_pylist():
                held = self.page(f"{row['series']}/{row['number']}")
                if held is not None:
                    yield held

    def runs(self, series: str) -> list[tuple[int, int]]:
        """Return the runs of page numbers held of one series."""
        with self._intake.writing():
            return [(run.first, run.last) for run in self._intake.catalogue.runs(series)]

    def _tables(self, kind: str) -> Iterator[pa.Table]:
        screen(self._intake)
        with self._intake.writing():
            names = list(self._intake.catalogue.file_names(kind))
        for name in names:
            yield read_file(folder_of(self._intake) / name)


def chosen(
    held: Iterable[tuple[HeldAct, bytes]], kinds: Collection[type[Act]], naming: Collection[str]
) -> list[HeldAct]:
    """Return those of some kinds (none given: all) in whose bytes any of the names stands (none given: all)."""
    marks = [_mark_of(name) for name in naming]
    return [
        each
        for each, content in held
        if (not kinds or isinstance(each.page.act, tuple(kinds)))
        and (not marks or any(mark in content for mark in marks))
    ]


def _any_stands_in(pages: pa.ChunkedArray, naming: Collection[str]) -> pa.ChunkedArray:
    stands = pc.match_substring(pages, _mark_of(next(iter(naming))))
    for name in naming:
        stands = pc.or_(stands, pc.match_substring(pages, _mark_of(name)))
    return stands


def _mark_of(name: str) -> bytes:
    """Return a name as it stands in a page's canonical bytes (RFC 8785)."""
    return json.dumps(name, ensure_ascii=False).encode()


def _word_of(kind: type[Act]) -> str:
    return str(kind.model_fields["kind"].default)


def _page_in(content: bytes) -> Page | None:
    """Return the page these bytes hold; none for bytes that close of day reports as no page (X76)."""
    try:
        return read_page(content)
    except PageNotUnderstood:
        return None
