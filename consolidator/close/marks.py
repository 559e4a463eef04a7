"""What stands beside each reading: its exceptions in one cell, leading cause first, and which pages each touches.

Owns writing marks for a million readings without looking at each: as bits, then once for each distinct set.
"""

from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.close.columns import TOUCHED_COLUMNS
from consolidator.close.exceptions import Kept
from consolidator.close.grouping import NO_LEAD, Raised
from consolidator.frame import Day
from consolidator.frame.coded import Coded, Codes, Ints, joined_key
from consolidator.rules import KINDS

_TAG: Final = " tag"
_MARKS: Final = (*KINDS, *(f"{number}{_TAG}" for number in KINDS))
_BITS: Final = 60


def exception_cells(raised: list[Raised], lead: Ints, count: int) -> Coded:
    """Return for each row the text of its exceptions: `X01;X23`, leading cause first, a tag as `X26 tag`."""
    words = [np.zeros(count, np.int64) for _ in range(0, len(_MARKS), _BITS)]
    for each in raised:
        if not each.is_about_readings:
            continue
        firm = np.setdiff1d(each.rows, each.tag_rows, assume_unique=True) if len(each.tag_rows) else each.rows
        _set(words, _MARKS.index(each.number), firm)
        if len(each.tag_rows):
            _set(words, _MARKS.index(f"{each.number}{_TAG}"), each.tag_rows)
    rows = np.flatnonzero(np.logical_or.reduce([word != 0 for word in words]))
    number_of = np.array([list(KINDS).index(each.number) for each in raised] or [0], np.int64)
    leader = number_of[np.where(lead[rows] < NO_LEAD, lead[rows], 0)]
    ranked = [np.unique(word[rows], return_inverse=True)[1].astype(np.int64) for word in words]
    key = joined_key([*ranked, leader])
    codes: Codes = np.full(count, -1, np.int32)
    codes[rows] = key
    _, first = np.unique(key, return_index=True)
    labels = [_text([int(word[rows[at]]) for word in words], int(leader[at])) for at in first.tolist()]
    return _merged(codes, labels)


def touched_table(day: Day, kept: list[Kept], lead: Ints, raised: list[Raised]) -> pa.Table:
    """Return which pages each exception touches, and of which it is the leading cause."""
    refs = _Refs(day)
    keys, pages, leads = [], [], []
    place = {id(one): at for at, one in enumerate(raised)}
    for one in kept:
        if one.raised is None:
            continue
        rows = one.raised.rows[day.is_in_day[one.raised.rows]]
        more = one.raised.pages
        keys.append(pa.array([one.cells["key"]] * (len(rows) + len(more)), pa.string()))
        pages.append(pa.concat_arrays([refs.of(rows), pa.array(more, pa.string())]))
        is_leading = np.append(lead[rows] == place[id(one.raised)], np.zeros(len(more), bool))
        leads.append(pc.if_else(pa.array(is_leading), "yes", ""))
    columns = [pa.chunked_array(parts, pa.string()) for parts in (keys, pages, leads)]
    return pa.table(dict(zip(TOUCHED_COLUMNS, columns, strict=True)))


def numbers_of_pages(raised: list[Raised]) -> dict[str, str]:
    """Return for each page that is no reading the exceptions it is touched by."""
    numbers: dict[str, list[str]] = {}
    for each in raised:
        for page in each.pages:
            numbers.setdefault(page, []).append(each.number)
    return {page: ";".join(dict.fromkeys(found)) for page, found in numbers.items()}


class _Refs:
    """Series and number of pages as text, many at once."""

    def __init__(self, day: Day) -> None:
        self._pages = day.pages

    def of(self, rows: Ints) -> pa.Array:
        """Return `S12-a/1877` for each row."""
        labels = pa.array([*self._pages.series.labels, ""], pa.string())
        series = labels.take(pa.array(self._pages.series.codes[rows] % len(labels)))
        numbers = pc.cast(pa.array(self._pages.number[rows]), pa.string())
        return pc.binary_join_element_wise(series, numbers, "/")


def _set(words: list[Ints], bit: int, rows: Ints) -> None:
    word, at = divmod(bit, _BITS)
    words[word][rows] |= np.int64(1) << np.int64(at)


def _text(words: list[int], leader: int) -> str:
    marks = [mark for bit, mark in enumerate(_MARKS) if words[bit // _BITS] >> (bit % _BITS) & 1]
    first = [mark for mark in marks if mark.removesuffix(_TAG) == _MARKS[leader]]
    return ";".join([*first, *(mark for mark in marks if mark not in first)])


def _merged(codes: Codes, labels: list[str]) -> Coded:
    """Return the column with equal texts under one code."""
    words = sorted(set(labels))
    place = np.array([*(words.index(label) for label in labels), -1], np.int32)
    return Coded(place[codes], tuple(words))
