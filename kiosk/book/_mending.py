"""Mends stores: torn bytes are put aside, and both stores of a book are made to tell the same pages.

Bytes set aside are never deleted: damage in the very last line looks like a torn write.
Never believes two different pages of one number, and removes nothing that is not held elsewhere.
"""

import hashlib
from pathlib import PurePosixPath

import rfc8785

from kiosk.book._examine import Examined, StoreFault, read_segment
from kiosk.book._journal import Line, previous_of, write_line
from kiosk.book._records import SET_ASIDE
from kiosk.book._store import Store


def set_torn_aside(store: Store, seen: Examined) -> list[str]:
    """Set every torn end of `store` aside and return a note on each; a store that fails is out of use.

    The bytes are on the disk in their new place before they leave the old one, so a power cut in between
    at most does it twice under the same name.
    """
    return [note for fault in seen.faults if fault.is_torn for note in _set_aside(store, fault)]


def _set_aside(store: Store, fault: StoreFault) -> list[str]:
    path = store.folder / fault.file
    whole = path.read_bytes()
    torn = whole[fault.fault.offset :]
    digest = hashlib.sha256(torn).hexdigest()
    stem = f"{PurePosixPath(fault.file).name}-{fault.fault.offset}-{digest[:16]}"
    note = f"{len(torn)} bytes at the end of {fault.file} of the {store.name} store were torn and set aside as {stem}."
    record: dict[str, str | int] = {
        "file": fault.file,
        "length": len(torn),
        "note": note,
        "offset": fault.fault.offset,
        "sha256": digest,
    }
    folder = store.folder / SET_ASIDE
    is_done = (
        store.replace(folder / f"{stem}.torn", torn)
        and store.replace(folder / f"{stem}.note.json", rfc8785.dumps({**record}))
        and store.replace(path, whole[: fault.fault.offset])
    )
    return [note] if is_done else []


def take_over(leader: Store, leading: Examined, other: Store, seen: Examined) -> list[str]:
    """Add to `leader` the pages that only `other` holds and that fit its chain; return what was done.

    A sound store that tells another page under the same number is stopped as damaged and nothing is taken from it.
    """
    differing = _differing(leading, seen)
    known = _lines(leading, sorted({segment - before for segment in differing for before in (0, 1)}))
    begin = min((read.first for read in leading.segments.values()), default=0)
    found = {n: line for n, line in _lines(seen, differing).items() if n >= begin}
    extra = {n: line for n, line in found.items() if n not in known}
    gained = _fitting(extra, known)
    unlike = sorted(n for n, line in found.items() if n in known and known[n].fingerprint != line.fingerprint)
    if other.is_in_use:
        unlike = sorted({*unlike, *extra} - {*gained})
    if unlike:
        words = f"its page {unlike[0]} does not fit the book in the {leader.name} store"
        other.stop("damaged", words)
        return [f"The {other.name} store was stopped: {words}."]
    if not gained or not leader.is_in_use:
        return []
    union = {**known, **gained}
    for segment in sorted({seen.identity.segment_of(n) for n in gained}):
        numbers = sorted(n for n in union if seen.identity.segment_of(n) == segment)
        content = b"".join(write_line(union[n].content) for n in numbers)
        if not leader.replace(seen.identity.segment_path(leader.folder, segment), content):
            return []
    return [f"{len(gained)} pages ({min(gained)} to {max(gained)}) were taken over from the {other.name} store."]


def catch_up(behind: Store, seen: Examined, leader: Store, leading: Examined) -> list[str]:
    """Bring `behind` to what `leader` holds and return what was done; whole segments, each whole or not at all."""
    identity = leading.identity
    changed = [segment for segment in leading.segments if _digest(seen, segment) != _digest(leading, segment)]
    for segment in sorted(changed):
        # Its own pages stay even where the leader has lost them and cannot be written.
        lines = {**_lines(seen, [segment]), **_lines(leading, [segment])}
        content = b"".join(write_line(line.content) for _, line in sorted(lines.items()))
        if not behind.replace(identity.segment_path(behind.folder, segment), content):
            return []
    first = min(leading.segments, default=0)
    for segment in seen.segments:
        # The leader forgot these after their receipt while this store was away.
        if segment < first and not behind.remove(identity.segment_path(behind.folder, segment)):
            return []
    if not changed:
        return []
    return [f"The {behind.name} store was brought from page {seen.last_number} to page {leading.last_number}."]


def _differing(one: Examined, other: Examined) -> list[int]:
    return [n for n in sorted({*one.segments, *other.segments}) if _digest(one, n) != _digest(other, n)]


def _digest(seen: Examined, segment: int) -> bytes:
    return seen.segments[segment].digest if segment in seen.segments else b""


def _lines(seen: Examined, segments: list[int]) -> dict[int, Line]:
    return {n: line for s in segments for n, line in read_segment(seen.folder, seen.identity, s).items()}


def _fitting(extra: dict[int, Line], known: dict[int, Line]) -> dict[int, Line]:
    taken: dict[int, Line] = {}
    for number in sorted(extra):
        line = extra[number]
        before = taken.get(number - 1) or known.get(number - 1)
        after = known.get(number + 1)
        if number > 1 and before is None:
            continue
        if before and previous_of(line) != before.fingerprint:
            continue
        if after and previous_of(after) != line.fingerprint:
            continue
        taken[number] = line
    return taken
