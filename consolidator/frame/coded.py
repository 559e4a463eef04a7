"""Text of a frame as integer codes, so that a rule looks at each distinct word once.

Owns turning dictionary-encoded columns into codes whose order is the ledger's order of words.
Knows nothing of pages or rules.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Codes = NDArray[np.int32]
Flags = NDArray[np.bool_]

_PARTS = re.compile(r"(\d+)")
_TABLE_SIZE = 2**25
"""Keys below this are counted in a table instead of being sorted; 33 MB of flags."""
_KEY_SIZE = 2**62


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that sorts `op 40` before `op 100`: runs of ASCII digits by size, then the text itself."""
    parts = tuple(
        (0, int(part), "") if part.isascii() and part.isdigit() else (1, 0, part) for part in _PARTS.split(text) if part
    )
    return (*parts, (2, 0, text))


@dataclass(frozen=True)
class Coded:
    """One column of text: `labels` in natural order, `codes` pointing into them, -1 where there is no text."""

    codes: Codes
    labels: tuple[str, ...]

    def at(self, row: int) -> str:
        """Return the text of one row, empty when it has none."""
        code = int(self.codes[row])
        return self.labels[code] if code >= 0 else ""

    def at_code(self, code: int) -> str:
        """Return the text of a code, empty for -1."""
        return self.labels[code] if code >= 0 else ""

    @cached_property
    def _places(self) -> dict[str, int]:
        return {label: place for place, label in enumerate(self.labels)}

    def code_of(self, text: str) -> int:
        """Return the code of `text`; -2 when no row has it."""
        return self._places.get(text, -2)

    def is_one_of(self, *texts: str) -> Flags:
        """Tell for each row whether it has one of `texts`."""
        return np.isin(self.codes, [code for text in texts if (code := self.code_of(text)) >= 0])

    @property
    def is_given(self) -> Flags:
        """Tell for each row whether it has text."""
        return np.asarray(self.codes >= 0)

    def spread(self, of_label: Callable[[str], int], otherwise: int) -> Ints:
        """Return `of_label` of each row's text, asked once for each distinct one; `otherwise` where there is none."""
        table = np.array([*(of_label(label) for label in self.labels), otherwise], dtype=np.int64)
        return np.asarray(table[self.codes])

    def taken(self, rows: Ints) -> "Coded":
        """Return the column of the rows named, in that order."""
        return Coded(self.codes[rows], self.labels)


def coded(column: pa.ChunkedArray) -> Coded:
    """Return a dictionary-encoded column (null where empty) as codes into its words in natural order."""
    if not pa.types.is_dictionary(column.type):
        column = column.dictionary_encode()
    whole = column.unify_dictionaries().combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = whole.chunk(0) if whole.num_chunks else pa.DictionaryArray.from_arrays(pa.array([], pa.int32()), [])
    words = [word or "" for word in whole.dictionary.to_pylist()]
    raw = whole.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int32)
    used = np.zeros(len(words) + 1, dtype=np.bool_)
    used[raw] = True
    labels = sorted({word for word, is_used in zip(words, used[:-1], strict=True) if is_used and word}, key=natural_key)
    place = {label: at for at, label in enumerate(labels)}
    moved = np.array([*(place.get(word, -1) for word in words), -1], dtype=np.int32)
    return Coded(moved[raw], tuple(labels))


def coded_texts(texts: Iterable[str]) -> Coded:
    """Return a column made from plain texts."""
    return coded(pa.chunked_array([pa.array([text or None for text in texts], pa.string())]))


def ints(column: pa.ChunkedArray, otherwise: int) -> Ints:
    """Return a column of whole numbers, `otherwise` where it has none."""
    return np.asarray(column.cast(pa.int64()).fill_null(otherwise).to_numpy(), dtype=np.int64)


def distinct(keys: Ints) -> tuple[Ints, Ints]:
    """Return the distinct keys (none negative) in order, and for each row the place of its key among them."""
    largest = int(keys.max(initial=0))
    if largest >= _TABLE_SIZE:
        values, places = np.unique(keys, return_inverse=True)
        return values.astype(np.int64), places.astype(np.int64)
    is_there = np.zeros(largest + 1, np.bool_)
    is_there[keys] = True
    values = np.flatnonzero(is_there).astype(np.int64)
    place = np.zeros(largest + 1, np.int32)
    place[values] = np.arange(len(values), dtype=np.int32)
    return values, place[keys].astype(np.int64)


def joined_key(columns: Sequence[Ints]) -> Ints:
    """Return one key 0, 1, 2, … for each distinct combination of `columns` (none negative), in their order."""
    key = np.zeros(len(columns[0]), np.int64)
    for column in columns:
        size = int(column.max(initial=0)) + 1
        if (int(key.max(initial=0)) + 1) * size >= _KEY_SIZE:
            key = distinct(key)[1]
        key = key * size + column
    return distinct(key)[1]


def first_rows(key: Ints) -> Ints:
    """Return the first row of each key 0, 1, 2, …"""
    first = np.full(int(key.max(initial=-1)) + 1, len(key), np.int64)
    np.minimum.at(first, key, np.arange(len(key)))
    return first
