"""One of the two stores of a book: a folder that takes lines until its disk fails it, and then no more.

Owns the lock, the writing, and the state shown on the screen. Must not decide what is true; that is `_opening`.
"""

import errno
import fcntl
import os
from collections.abc import Callable
from pathlib import Path
from typing import Final, Literal

from kiosk.book._journal import write_record
from kiosk.book._records import COUNTER, IDENTITY, LOCK, RECEIPTS, Identity, Receipt, StoreName, write_identity
from kiosk.errors import BookInUse
from kiosk.pages.station import Store as StoreNow
from kiosk.ports import Disk

State = Literal["good", "full", "read-only", "away", "damaged"]

_STATE_OF_ERROR: Final[dict[int, State]] = {
    errno.ENOSPC: "full",
    errno.EDQUOT: "full",
    errno.EROFS: "read-only",
    errno.EACCES: "read-only",
    errno.EPERM: "read-only",
}


class FileChanged(OSError):
    """A file of the store is not as long as this program left it: another hand was at it."""


class Store:
    """A folder of the book; once out of use it stays so until the book is opened again."""

    def __init__(self, name: StoreName, folder: Path, disk: Disk) -> None:
        self.name: StoreName = name
        self.folder = folder
        self.state: State = "good"
        self.words = ""
        self._disk = disk
        self._lock: int | None = None
        self._sizes: dict[Path, int] = {}
        self._identity: bytes | None = None
        self._counter_path = folder / COUNTER
        self._open_segment, self._open_path = -1, folder

    @property
    def is_in_use(self) -> bool:
        """True while pages are written here."""
        return self.state == "good"

    @property
    def free_bytes(self) -> int:
        """Room left on this store's disk; 0 when it cannot be told."""
        try:
            return self._disk.free_bytes(self.folder)
        except OSError:
            return 0

    @property
    def disk_number(self) -> int | str:
        """Which disk of the machine the store lies on; its name when that cannot be told."""
        try:
            return self.folder.stat().st_dev
        except OSError:
            return self.name

    def now(self) -> StoreNow:
        """Return the store's state as a page holds it."""
        return StoreNow(name=self.name, state=self.state, free_bytes=self.free_bytes)

    def lock(self) -> None:
        """Keep every other program out until `release`; a killed program's lock is gone with it.

        Raises:
            BookInUse: another program has the book open.
            OSError: the lock file can be neither made nor opened.
        """
        path = self.folder / LOCK
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError:
            descriptor = os.open(path, os.O_RDONLY)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(descriptor)
            raise BookInUse(
                f"Book not opened: the {self.name} store is in use by another program.",
                why="Two programs writing one book would give one number to two pages.",
                next_step="Close the other program, or use the one that is already open.",
            ) from error
        except OSError:
            os.close(descriptor)
            raise
        self._lock = descriptor

    def release(self) -> None:
        """Let other programs in again."""
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def stop(self, state: State, words: str) -> None:
        """Take the store out of use until the book is opened again; the first reason stays."""
        if self.is_in_use:
            self.state, self.words = state, words

    def attempt(self, act: Callable[[], None]) -> bool:
        """Do one act on the disk and return True; when it fails the store is out of use, and it is not tried again."""
        if not self.is_in_use:
            return False
        try:
            act()
        except FileChanged as error:
            self.stop("damaged", str(error))
            return False
        except OSError as error:
            # A failed sync leaves nobody knowing what is on the disk, so it is never repeated: see decision 0012.
            self.stop(_STATE_OF_ERROR.get(error.errno or 0, "away"), f"{error.strerror or error}")
            return False
        return True

    def restart(self) -> None:
        """Take the store into use again after its files were made anew.

        Raises:
            BookInUse: another program has it open.
            OSError: it cannot be locked.
        """
        self.release()
        self.lock()
        self.state, self.words = "good", ""

    def begin(self, identity: Identity, open_segment: int | None) -> None:
        """Take the files as they stand as this program's own; no other store in this place is written any more."""
        paths = [self.folder / COUNTER, self.folder / RECEIPTS]
        if open_segment is not None:
            paths.append(identity.segment_path(self.folder, open_segment))
        self._sizes = {path: path.stat().st_size for path in paths if path.exists()}
        self._identity = write_identity(identity)

    def append_page(self, identity: Identity, number: int, line: bytes) -> bool:
        """Bring one page onto the disk; False when the store failed."""
        segment = identity.segment_of(number)
        if segment != self._open_segment:
            self._open_segment, self._open_path = segment, identity.segment_path(self.folder, segment)
        path = self._open_path
        return self.attempt(lambda: self._append(path, line))

    def write_counter(self, line: bytes, *, is_afresh: bool) -> bool:
        """Bring the counter onto the disk, as one more line or as a file of one line; False when the store failed."""
        if is_afresh:
            return self.replace(self._counter_path, line)
        return self.attempt(lambda: self._append(self._counter_path, line))

    def append_receipt(self, receipt: Receipt) -> bool:
        """Bring a receipt onto the disk; False when the store failed."""
        return self.attempt(lambda: self._append(self.folder / RECEIPTS, write_record(receipt)))

    def replace(self, path: Path, content: bytes) -> bool:
        """Put a whole file in place of the old one, or leave the old one; False when the store failed."""

        def put() -> None:
            self._check_still_ours()
            self._disk.replace_synced(path, content)
            self._sizes[path] = len(content)

        return self.attempt(put)

    def remove(self, path: Path) -> bool:
        """Remove one file; False when the store failed."""
        return self.attempt(lambda: path.unlink(missing_ok=True))

    def _append(self, path: Path, line: bytes) -> None:
        expected = self._sizes.get(path, 0)
        try:
            found = path.stat().st_size
        except FileNotFoundError:
            found = 0
        if found != expected or not expected:
            self._check_still_ours()
        if found != expected:
            raise FileChanged(f"{path.name} is {found} bytes long, {expected} were written")
        self._disk.append_synced(path, line)
        self._sizes[path] = expected + len(line)

    def _check_still_ours(self) -> None:
        # Somebody may have pulled the store out, or put another kiosk's store in its place.
        if self._identity is None:
            return
        if (self.folder / IDENTITY).read_bytes() != self._identity:
            raise OSError(errno.ENODEV, "the store in its place belongs to another book")
