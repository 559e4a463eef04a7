"""Pages into frames: every field checked by the page models' own rules, readings many at a time.

A reading page is parsed with the others of its batch, and each distinct value of each field is checked once
by the very rule its model has for that field; a batch with a fault in it is halved until the faulty pages stand alone.
Owns the frames' making; pure: bytes in, tables out.
"""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC
from functools import cache
from types import NoneType
from typing import Annotated, Any, Final, Literal, NamedTuple, get_args, get_origin

import orjson
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.json as pj
import rfc8785
from pydantic import BaseModel, TypeAdapter, ValidationError

from consolidator.intake.held import READINGS_SCHEMA
from kiosk.errors import NewerFormat, PageNotUnderstood
from kiosk.pages import Page, read_page
from kiosk.pages.readings import Reading
from kiosk.times import TIME_PATTERN, read_time, write_time

READING_MARK: Final = b'"kind":"reading"'
"""Stands in every reading page's bytes and, quotation marks in strings being escaped, in no other."""
ACTS_SCHEMA: Final = pa.schema(
    [
        ("series", pa.string()),
        ("number", pa.int64()),
        ("fingerprint", pa.string()),
        ("received_at_ms", pa.int64()),
        ("kiosk_time_ms", pa.int64()),
        ("running_ms", pa.int64()),
        ("session", pa.int64()),
        ("kind", pa.string()),
        ("page", pa.binary()),
    ]
)
_BLOCK_BYTES: Final = 4_194_304
"""Parsed at a time; far more than the largest page, so that no page spans three blocks."""
_EXACT_LIMIT: Final = 2**53 - 1
"""The largest whole number that canonical JSON may hold (RFC 8785, after RFC 7493)."""
_EARLIEST_MS: Final = -62_135_596_800_000
_LATEST_MS: Final = 253_402_300_799_999
"""The years 1 to 9999 in UTC: what a datetime can hold."""
_NO_TIME: Final = "a time in it does not exist"
_TIMES: Final = ("kiosk_time", "lists_taken_at", "out_of_heat_at", "paper_taken_at")


class Arrived(NamedTuple):
    """One page as it arrived: its bytes and the fingerprint of exactly these."""

    series: str
    number: int
    fingerprint: str
    received_ms: int
    page: bytes


class _Unfit(Exception):
    """Somewhere in a batch a page does not fit; which one is found by halving."""


def check_one(page: bytes) -> str:
    """Return why bytes are no page of a book, in words; empty when they are. The rule that batches are held to."""
    try:
        read = read_page(page)
    except (PageNotUnderstood, NewerFormat) as error:
        return error.why
    except rfc8785.CanonicalizationError as error:
        return f"a number in it cannot be written exactly ({error})"
    return _wrong_time(read)


def readings_frame(arrived: Sequence[Arrived]) -> tuple[pa.Table, list[tuple[Arrived, str]]]:
    """Return the reading pages as a table in the order given, and the pages that do not fit with the reason."""
    if not arrived:
        return READINGS_SCHEMA.empty_table(), []
    try:
        return _frame(arrived), []
    except _Unfit as unfit:
        if len(arrived) == 1:
            return READINGS_SCHEMA.empty_table(), [(arrived[0], check_one(arrived[0].page) or str(unfit))]
    middle = len(arrived) // 2
    left, left_faults = readings_frame(arrived[:middle])
    right, right_faults = readings_frame(arrived[middle:])
    return pa.concat_tables([left, right]), left_faults + right_faults


def acts_frame(arrived: Sequence[Arrived]) -> tuple[pa.Table, list[tuple[Arrived, str]]]:
    """Return all other pages as a table, one by one through their models, and those that do not fit."""
    columns: list[list[Any]] = [[] for _ in ACTS_SCHEMA]
    faults: list[tuple[Arrived, str]] = []
    for each in arrived:
        page, why = _act(each.page)
        if page is None:
            faults.append((each, why))
            continue
        time_ms = round(read_time(page.kiosk_time).timestamp() * 1000)
        row = (each.series, each.number, each.fingerprint, each.received_ms, time_ms, page.running_ms, page.session)
        for column, value in zip(columns, (*row, page.act.kind, each.page), strict=True):
            column.append(value)
    return pa.table(columns, schema=ACTS_SCHEMA), faults


def _act(raw: bytes) -> tuple[Page | None, str]:
    try:
        page = Page.model_validate_json(raw)
    except ValidationError:
        return None, check_one(raw)
    # The same bytes as RFC 8785 wherever keys are plain ASCII, and ten times as fast.
    quick = orjson.dumps(page.model_dump(mode="json", exclude_none=True), option=orjson.OPT_SORT_KEYS)
    why = _wrong_time(page) if quick == raw else check_one(raw)
    return (None, why) if why else (page, "")


def _wrong_time(page: Page) -> str:
    """Return in words that a time in a page fits its pattern and does not exist, such as 30 February."""
    try:
        for text in _times_in(page):
            moment = read_time(text)
            moment.astimezone(UTC)
            if write_time(moment) != text:  # an offset of 60 minutes, which is read and never written
                return _NO_TIME
    except (ValueError, OverflowError):
        return _NO_TIME
    return ""


def _times_in(model: BaseModel) -> Iterator[str]:
    names = _time_fields(type(model))
    for name, value in model:
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, BaseModel):
                yield from _times_in(each)
            elif name in names and each is not None:
                yield each


@cache
def _time_fields(kind: type[BaseModel]) -> frozenset[str]:
    pattern = repr(TIME_PATTERN)
    return frozenset(name for name, field in kind.model_fields.items() if pattern in repr(field))


@dataclass(frozen=True)
class _Field:
    name: str
    kind: pa.DataType
    is_needed: bool
    values: TypeAdapter[Any]
    """Checks a list of values of this field, each by the model's own rule."""


def _fields(of: type[Page] | type[Reading]) -> tuple[_Field, ...]:
    found = []
    for name, field in of.model_fields.items():
        if name == "act":
            continue
        rule = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
        # A page's bytes leave out only what has no value, so a default does not make a field needless.
        is_needed = NoneType not in get_args(field.annotation)
        found.append(_Field(name, _kind(field.annotation), is_needed, TypeAdapter(list[rule])))  # type: ignore[valid-type]
    return tuple(found)


def _kind(annotation: Any) -> pa.DataType:
    plain = [each for each in get_args(annotation) if each is not NoneType]
    if get_origin(annotation) is tuple:
        if hasattr(plain[0], "model_fields"):
            return pa.list_(pa.struct([("text", pa.string()), ("asked", pa.list_(pa.string()))]))
        return pa.list_(pa.string())
    if get_origin(annotation) is Literal:
        return pa.int64() if isinstance(plain[0], int) else pa.string()
    if NoneType in get_args(annotation):
        return _kind(plain[0])
    if get_origin(annotation) is Annotated:
        return _kind(get_args(annotation)[0])
    return pa.int64() if annotation is int else pa.string()


_ENVELOPE: Final = _fields(Page)
_READING: Final = _fields(Reading)
_OPTIONS: Final = pj.ParseOptions(
    explicit_schema=pa.schema(
        [
            *((field.name, field.kind) for field in _ENVELOPE),
            ("act", pa.struct([(field.name, field.kind) for field in _READING])),
        ]
    ),
    unexpected_field_behavior="error",
)


def _frame(arrived: Sequence[Arrived]) -> pa.Table:
    """Return a table of reading pages, all of them fit.

    Raises:
        _Unfit: at least one is not.
    """
    pages = [each.page for each in arrived]
    _check_canonical(pages)
    parsed = _parse(pages)
    act = parsed.column("act").combine_chunks()
    if act.null_count:
        raise _Unfit("it has no act")
    columns = {field.name: parsed.column(field.name).combine_chunks() for field in _ENVELOPE}
    columns |= {field.name: act.field(place) for place, field in enumerate(_READING)}
    ready = {field.name: _checked(field, columns[field.name]) for field in (*_ENVELOPE, *_READING)}
    for name in _TIMES:
        ready[name + "_ms"] = _milliseconds(columns[name])
    ready["kiosk_offset_min"] = _offset_minutes(columns["kiosk_time"])
    ready["series"] = pa.array([each.series for each in arrived], pa.string()).dictionary_encode()
    ready["number"] = pa.array([each.number for each in arrived], pa.int64())
    ready["fingerprint"] = pa.array([each.fingerprint for each in arrived], pa.string())
    ready["received_at_ms"] = pa.array([each.received_ms for each in arrived], pa.int64())
    return pa.table([ready[name] for name in READINGS_SCHEMA.names], schema=READINGS_SCHEMA)


def _check_canonical(pages: Sequence[bytes]) -> None:
    loads, dumps, in_order = orjson.loads, orjson.dumps, orjson.OPT_SORT_KEYS
    try:
        for page in pages:
            # The parser behind _parse falls over a line that is no object: it may never see one.
            if not page.startswith(b'{"act":{'):
                raise _Unfit("it is no page of a numbered book")
            told = loads(page)
            if dumps(told, option=in_order) != page or (b":null" in page and _has_null(told)):
                raise _Unfit("its bytes are not the canonical ones (RFC 8785)")
    except orjson.JSONDecodeError as error:
        raise _Unfit("the bytes are not JSON") from error


def _has_null(told: Any) -> bool:
    """True where a field is written as null: a field without a value is left out of a page's bytes."""
    if isinstance(told, dict):
        return any(_has_null(value) for value in told.values())
    return told is None or (isinstance(told, list) and any(_has_null(value) for value in told))


def _parse(pages: Sequence[bytes]) -> pa.Table:
    lines = b"\n".join(pages)
    options = pj.ReadOptions(use_threads=True, block_size=_BLOCK_BYTES)
    try:
        parsed = pj.read_json(io.BytesIO(lines), read_options=options, parse_options=_OPTIONS)
    except pa.ArrowInvalid as error:
        raise _Unfit(str(error)) from error
    if parsed.num_rows != len(pages):
        raise _Unfit("it is not one JSON object")
    return parsed


def _checked(field: _Field, column: pa.Array) -> pa.Array:
    """Check each distinct value of a column by its model's own rule, and return the column as the frame has it."""
    if field.is_needed and column.null_count:
        raise _Unfit(f"field {field.name} is missing")
    try:
        if pa.types.is_list(column.type):
            return _checked_lists(field, column)
        if pa.types.is_integer(column.type):
            # Every rule for a whole number is an interval, so the ends stand for all.
            ends = [end for end in pc.min_max(column).as_py().values() if end is not None]
            field.values.validate_python(ends)
            if any(abs(end) > _EXACT_LIMIT for end in ends):
                raise _Unfit(f"field {field.name} cannot be written exactly")
            return column
        encoded = column.dictionary_encode()
        field.values.validate_python(encoded.dictionary.to_pylist())
    except ValidationError as error:
        raise _Unfit(f"field {field.name}: {error.errors(include_url=False)[0]['msg']}") from error
    return encoded


def _checked_lists(field: _Field, column: pa.Array) -> pa.Array:
    if pa.types.is_struct(column.type.value_type):
        return _checked_earlier(field, column)
    if column.flatten().null_count:
        raise _Unfit(f"field {field.name} has an empty place")
    field.values.validate_python([tuple(column.flatten().unique().to_pylist())])
    return pc.binary_join(column, ";").dictionary_encode()


def _checked_earlier(field: _Field, column: pa.Array) -> pa.Array:
    """Return earlier keyings as canonical JSON text; almost every reading has none."""
    texts = [""] * len(column)
    for place in pc.indices_nonzero(pc.list_value_length(column)).to_pylist():
        keyings = column[place].as_py()
        field.values.validate_python([keyings])
        texts[place] = rfc8785.dumps(keyings).decode()
    return pa.array(texts, pa.string()).dictionary_encode()


def _milliseconds(column: pa.Array) -> pa.Array:
    try:
        moments = column.cast(pa.timestamp("ms", "UTC")).cast(pa.int64())
    except pa.ArrowInvalid as error:
        raise _Unfit(_NO_TIME) from error
    ends = pc.min_max(moments).as_py()
    if ends["min"] is not None and not _EARLIEST_MS <= ends["min"] <= ends["max"] <= _LATEST_MS:
        raise _Unfit(_NO_TIME)
    return moments


def _offset_minutes(column: pa.Array) -> pa.Array:
    offsets = pc.utf8_slice_codeunits(column, start=-6).dictionary_encode()
    minutes = []
    for text in offsets.dictionary.to_pylist():
        hours, rest = int(text[1:3]), int(text[4:6])
        if hours > 23 or rest > 59:
            raise _Unfit(_NO_TIME)
        minutes.append((hours * 60 + rest) * (-1 if text[0] == "-" else 1))
    return pa.array(minutes, pa.int32()).take(offsets.indices)
