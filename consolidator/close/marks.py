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
    places, leads, more = list[Ints](), list[Ints](), list[str]()
    rows_of = [one.raised.rows[day.is_in_day[one.raised.rows]] for one in kept if one.raised is not None]
    every = np.concatenate([np.zeros(0, np.int64), *rows_of])
    place, begun = {id(one): at for at, one in enumerate(raised)}, 0
    told = [one.raised for one in kept if one.raised is not None]
    for one, rows in zip(told, rows_of, strict=True):
        extra = np.arange(len(more), len(more) + len(one.pages)) + len(every)
        places.append(np.concatenate((np.arange(begun, begun + len(rows)), extra)))
        leads.append(np.append(lead[rows] == place[id(one)], np.zeros(len(extra), bool)))
        more.extend(one.pages)
        begun += len(rows)
    texts = pa.concat_arrays([_refs(day, every), pa.array(more, pa.string())])
    of_key = np.repeat(np.flatnonzero([one.raised is not None for one in kept]), [len(each) for each in places])
    columns = (
        pa.array([one.cells["key"] for one in kept], pa.string()).take(pa.array(of_key)),
        texts.take(pa.array(np.concatenate([np.zeros(0, np.int64), *places]))),
        pc.if_else(pa.array(np.concatenate([np.zeros(0, bool), *leads])), "yes", ""),
    )
    return pa.table(dict(zip(TOUCHED_COLUMNS, columns, strict=True)))


def numbers_of_pages(raised: list[Raised]) -> dict[str, str]:
    """Return for each page that is no reading the exceptions it is touched by."""
    numbers: dict[str, list[str]] = {}
    for each in raised:
        for page in each.pages:
            numbers.setdefault(page, []).append(each.number)
    return {page: ";".join(dict.fromkeys(found)) for page, found in numbers.items()}


def _refs(day: Day, rows: Ints) -> pa.Array:
    """Return series and number, as `S12-a/1877`, for each row."""
    labels = pa.array([*day.pages.series.labels, ""], pa.string())
    series = labels.take(pa.array(day.pages.series.codes[rows] % len(labels)))
    return pc.binary_join_element_wise(series, pc.cast(pa.array(day.pages.number[rows]), pa.string()), "/")


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
