"""Fingerprints of many rows at once: leaf hashes packed 32 bytes each, and the root over them.

Owns the fast way for a whole day; `check_ledger` does the same row by row, and a test holds the two together.
Hashing follows RFC 9162 section 2.1.1 (the same as RFC 6962): SHA-256, 0x00 before a leaf, 0x01 before two nodes.
Must not know what a row means.
"""

import hashlib
import json
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

HASH_BYTES: Final = 32
EMPTY_ROOT: Final = hashlib.sha256().digest()
"""The root over no rows at all, by RFC 9162: SHA-256 of nothing."""

_NEEDS_ESCAPE: Final = r'["\\\x00-\x1f]'
_CELL_BORDER: Final = '","'


def leaf_hashes(table: pa.Table, *, chunk_rows: int) -> bytes:
    """Return the leaf hash of every row, packed 32 bytes a row, in the order of `table`.

    A row is the RFC 8785 array of its cell texts. Memory grows with `chunk_rows`, not with the table,
    apart from the 32 bytes a row that are returned.

    Raises:
        TypeError: a column is not text, or a cell is missing instead of empty.
    """
    columns = [_escaped(table.column(name), name) for name in table.column_names]
    packed = bytearray()
    sha256 = hashlib.sha256
    for texts in _row_texts(columns, table.num_rows, chunk_rows):
        packed += b"".join([sha256(b'\x00["%b"]' % text).digest() for text in texts])
    return bytes(packed)


def root(leaves: bytes) -> bytes:
    """Return the root over packed leaf hashes."""
    if not leaves:
        return EMPTY_ROOT
    level = leaves
    sha256 = hashlib.sha256
    while len(level) > HASH_BYTES:
        paired = len(level) // 64 * 64
        odd = level[paired:]
        level = b"".join([sha256(b"\x01" + level[at : at + 64]).digest() for at in range(0, paired, 64)]) + odd
    return level


def picked(leaves: bytes, order: npt.NDArray[np.int64]) -> bytes:
    """Return the packed leaf hashes at the places in `order`."""
    return np.frombuffer(leaves, dtype=np.uint8).reshape(-1, HASH_BYTES)[order].tobytes()


def _row_texts(columns: list[pa.ChunkedArray], rows: int, chunk_rows: int) -> Iterator[list[bytes]]:
    # The joining runs without Python's lock, so a second core builds the next chunk while this one hashes.
    with ThreadPoolExecutor(max_workers=1) as pool:
        waiting: deque[Future[list[bytes]]] = deque()
        for start in range(0, rows, chunk_rows):
            waiting.append(pool.submit(_joined, columns, start, chunk_rows))
            if len(waiting) > 1:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _joined(columns: list[pa.ChunkedArray], start: int, count: int) -> list[bytes]:
    cells = [_plain(column.slice(start, count)) for column in columns]
    joined = pc.binary_join_element_wise(*cells, _CELL_BORDER)
    texts: list[bytes] = joined.cast(pa.binary()).to_pylist()
    return texts


def _plain(column: pa.ChunkedArray) -> Any:
    whole = column.combine_chunks()
    array = whole.combine_chunks() if isinstance(whole, pa.ChunkedArray) else whole
    return array.dictionary.take(array.indices) if pa.types.is_dictionary(array.type) else array


def _escaped(column: pa.ChunkedArray, name: str) -> pa.ChunkedArray:
    if column.null_count:
        raise TypeError(f"ledger column {name} lacks a cell; an empty cell is an empty text")
    return pa.chunked_array([_escaped_chunk(chunk, name) for chunk in column.chunks] or [pa.array([], pa.string())])


def _escaped_chunk(chunk: Any, name: str) -> Any:
    if pa.types.is_dictionary(chunk.type):
        return pa.DictionaryArray.from_arrays(chunk.indices, _escaped_texts(chunk.dictionary, name))
    return _escaped_texts(chunk, name)


def _escaped_texts(texts: Any, name: str) -> Any:
    if not (pa.types.is_string(texts.type) or pa.types.is_large_string(texts.type)):
        raise TypeError(f"ledger column {name} is {texts.type}, not text")
    if not pc.any(pc.match_substring_regex(texts, _NEEDS_ESCAPE)).as_py():
        return texts.cast(pa.string())
    return pa.array([json.dumps(text, ensure_ascii=False)[1:-1] for text in texts.to_pylist()], pa.string())
