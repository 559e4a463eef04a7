"""A power cut at every byte of a write, writes a lying disk lost, and every bit of a store flipped in turn."""

import itertools
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.book import Book, examine, find_identity
from kiosk.pages import fingerprint
from kiosk.pages.station import PowerOn
from tests.unit.kiosk.book.small_books import Kiosk, chain_breaks, files_of, remark

pytestmark = pytest.mark.slow

Files = dict[Path, bytes]


class _Scene:
    """A book, the bytes of both stores before its last writes, those writes in order, and what was acknowledged."""

    def __init__(self, root: Path, pages: int, last_writes: int) -> None:
        self.kiosk = Kiosk(root)
        with self.kiosk.create() as book:
            for count in range(pages):
                book.keep(remark(count), person=None)
            self.kiosk.disk.writes.clear()
            self.before = self._files()
            self.acknowledged = self._fingerprints(book)
            for count in range(last_writes):
                book.keep(remark(100 + count), person=None)
            self.writes = list(self.kiosk.disk.writes)
            self.all = self._fingerprints(book)

    def put(self, files: Files) -> None:
        """Make both stores look as `files` say."""
        for store in self.kiosk.stores:
            for path in store.rglob("*"):
                if path.is_file() and path.name != "lock" and path not in files:
                    path.unlink()
        for path, content in files.items():
            path.write_bytes(content)

    def found(self, book: Book) -> dict[int, str]:
        """Return number and fingerprint of every page but the newest power-on."""
        found = self._fingerprints(book)
        found.pop(book.last_number)
        return found

    def _files(self) -> Files:
        return {store / name: content for store in self.kiosk.stores for name, content in files_of(store).items()}

    @staticmethod
    def _fingerprints(book: Book) -> dict[int, str]:
        return {page.number: fingerprint(content) for page, content in book.pages()}


def _torn_states(scene: _Scene) -> Iterator[tuple[Files, bytes]]:
    """Yield every state a power cut can leave: all writes before one, that one cut, none after; and what was torn.

    The missing rest is either not there, or zeros where the file had grown before its bytes came.
    """
    files = dict(scene.before)
    for path, line in scene.writes:
        target = path.with_name(path.name.removesuffix(".new"))
        for cut in range(len(line)):
            for rest in (b"", b"\0" * (len(line) - cut)):
                torn = line[:cut] + rest
                yield {**files, path: files.get(path, b"") + torn}, torn
        # A file replaced is written beside the old one and renamed: it is old or new, never half.
        files[target] = line if target != path else files.get(path, b"") + line
    yield files, b""


@pytest.mark.parametrize("pages", [2, 4], ids=["within a segment", "first page of a segment"])
@pytest.mark.timeout(300)
def test_a_power_cut_at_any_byte_loses_nothing_acknowledged_and_doubles_nothing(tmp_path: Path, pages: int) -> None:
    """After any cut the book opens, holds every acknowledged page, the last one whole or not at all, and goes on."""
    scene = _Scene(tmp_path, pages, last_writes=1)
    assert [path.parent.name for path, _ in scene.writes] == ["pages", "pages", "store-a", "store-b"]

    for files, torn in _torn_states(scene):
        is_beside = any(path.name.endswith(".new") for path in files)
        scene.put(files)
        with scene.kiosk.open() as book:
            found = scene.found(book)
            contents = [content for _, content in book.pages()]
            assert found in (scene.acknowledged, scene.all)
            assert chain_breaks(contents) == []
            assert book.last_number == len(found) + 1
            assert [store.state for store in book.stores] == ["good", "good"]
        if torn and not is_beside:
            aside = [path.read_bytes() for store in scene.kiosk.stores for path in store.glob("set-aside/*.torn")]
            assert torn in aside, "torn bytes are never deleted"
        assert files_of(scene.kiosk.stores[0]).keys() >= {"book.json", "counter.journal", "receipts.journal"}


def test_a_page_is_counted_only_after_both_stores_hold_it(tmp_path: Path) -> None:
    """The order of writing is what makes the other promises true: pages first, in one store after the other."""
    scene = _Scene(tmp_path, 1, last_writes=2)

    order = [
        f"{path.relative_to(tmp_path).parts[0]} {path.stem.strip('0123456789') or 'page'}" for path, _ in scene.writes
    ]

    assert order == ["store-a page", "store-b page", "store-a counter", "store-b counter"] * 2


def test_a_disk_that_lost_its_last_writes_never_makes_a_number_be_given_twice(tmp_path: Path) -> None:
    """Each file may have lost its newest lines, though it said they were synced: what any store holds is found."""
    scene = _Scene(tmp_path, 1, last_writes=2)
    paths = sorted({path for path, _ in scene.writes})

    for lost in itertools.product(range(3), repeat=len(paths)):
        files = dict(scene.before)
        left: dict[Path, list[bytes]] = {
            path: [line for other, line in scene.writes if other == path] for path in paths
        }
        for path, count in zip(paths, lost, strict=True):
            files[path] += b"".join(left[path][: len(left[path]) - count])
        reached = len(scene.acknowledged) + max(2 - count for count in lost)
        held = len(scene.acknowledged) + max(
            2 - count for path, count in zip(paths, lost, strict=True) if path.parent.name == "pages"
        )
        scene.put(files)

        with scene.kiosk.open() as book:
            assert scene.found(book) == {number: scene.all[number] for number in range(1, held + 1)}
            assert book.last_number == reached + 1
            power_on = book.page(book.last_number)
            assert isinstance(power_on.act, PowerOn)
            assert ("were given out" in power_on.act.recovered) == (reached > held)
            if reached > held:
                assert power_on.previous == scene.all[reached]


@pytest.mark.timeout(300)
def test_any_flipped_bit_in_a_store_is_reported(tmp_path: Path) -> None:
    """Each bit of each file in turn: the examination names the file, or no longer takes it for this book."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(6):
            book.keep(remark(count), person=None)
        book.receipt(2, fingerprint(next(content for _, content in book.pages(2))), "2026-03-11T02:00:00.000-04:00")
    store = kiosk.stores[1]
    identity = find_identity(store)
    assert identity

    for name, content in files_of(store).items():
        path = store / name
        for place in range(len(content) * 8):
            flipped = bytearray(content)
            flipped[place // 8] ^= 1 << place % 8
            path.write_bytes(bytes(flipped))
            if name == "book.json":
                assert find_identity(store) is None
            else:
                assert name in {fault.file for fault in examine(store, identity).faults}
        path.write_bytes(content)


def test_after_any_flipped_bit_every_page_is_still_found_and_the_screen_says_so(tmp_path: Path) -> None:
    """A seeded choice of bits in either store: the book opens on the other and tells."""
    scene = _Scene(tmp_path, 7, last_writes=1)
    whole = scene._files()
    chance = random.Random(20261125)

    for _ in range(200):
        path = chance.choice([path for path, content in whole.items() if content])
        flipped = bytearray(whole[path])
        place = chance.randrange(len(flipped) * 8)
        flipped[place // 8] ^= 1 << place % 8
        scene.put({**whole, path: bytes(flipped)})

        with scene.kiosk.open() as book:
            assert {n: mark for n, mark in scene.found(book).items() if n in scene.all} == scene.all
            assert book.notices, f"{path.name}, bit {place}"
