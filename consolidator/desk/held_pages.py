"""The pages an act of the desk looks at: one page by its name, all acts, and readings that measure a piece again.

Owns finding them, in memory or in the plant's intake. Must not judge anything.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import pyarrow as pa
import pyarrow.compute as pc

from consolidator.intake import Intake
from consolidator.intake.screened import ACTS, READINGS, folder_of, read_file, screen
from kiosk.errors import PageNotUnderstood
from kiosk.pages import Page, fingerprint, read_page
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

    def acts(self) -> Iterable[HeldAct]:
        """Return every page held that is no reading, in no promised order."""
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
        self._held: dict[str, HeldAct] = {}
        for page, content in pages:
            self.add(page, content)

    def add(self, page: Page, content: bytes) -> None:
        """Hold one more page."""
        self._held[page.ref] = HeldAct(page, fingerprint(content))

    def page(self, ref: str) -> HeldAct | None:
        """Return the page named."""
        return self._held.get(ref)

    def acts(self) -> Iterable[HeldAct]:
        """Return every page that is no reading."""
        return [held for held in self._held.values() if not isinstance(held.page.act, Reading)]

    def re_measures(self, ref: str) -> Iterable[HeldAct]:
        """Return the readings that measure the piece of `ref` again."""
        readings = [held for held in self._held.values() if isinstance(held.page.act, Reading)]
        return [held for held in readings if getattr(held.page.act, "re_measure_of", None) == ref]

    def runs(self, series: str) -> list[tuple[int, int]]:
        """Return the runs of page numbers held of one series."""
        runs: list[tuple[int, int]] = []
        for number in sorted(held.page.number for held in self._held.values() if held.page.series == series):
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

    def acts(self) -> Iterable[HeldAct]:
        """Return every page held that is no reading."""
        for table in self._tables(ACTS):
            for row in table.select(["fingerprint", "page"]).to_pylist():
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


def _page_in(content: bytes) -> Page | None:
    """Return the page these bytes hold; none for bytes that close of day reports as no page (X76)."""
    try:
        return read_page(content)
    except PageNotUnderstood:
        return None
