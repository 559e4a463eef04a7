"""Two ways of checking a page, held together: the page models one by one, and whole batches by columns."""

import json
from collections.abc import Callable
from typing import Any

import orjson
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from consolidator.intake.held import READINGS_SCHEMA
from consolidator.intake.screening import Arrived, acts_frame, check_one, readings_frame
from kiosk.pages import FIRST_PREVIOUS, Page, canonical_bytes, fingerprint
from kiosk.pages.readings import Keying, Reading
from kiosk.pages.station import OutOfHeat, Remark
from kiosk.times import read_time
from tests.unit.carried import MORNING, MemoryBook, book_of, reading

FULL = reading(
    set_up="SU-31",
    position="90°",
    master="M-14",
    typed=("lot", "gauge"),
    earlier=(Keying(text="3.122", asked=("X26", "X30")), Keying(text="")),
    computed_from='{"M":"0.3198"}',
    part_temperature="95",
    gauge_temperature="-4.5",
    temperature_unit="degF",
    out_of_heat_at="2026-03-10T10:05:00.000-04:00",
    source="from paper",
    paper_form="F-1",
    paper_taken_at="2026-11-01T01:20:00.000-05:00",
    taken_by="P-104",
    read_back_by="P-108",
    re_measure_of="S12-a/5",
    replaces=3,
    reasons=("X23", "X26"),
    remark='knock, "soft"\n\t\\ \u001f é 漢 🔩 null":null',
    photo="ab" * 32,
)


def _page(act: Reading, **more: Any) -> bytes:
    book = MemoryBook()
    book.keep(act, MORNING, **more)
    return book.kept[0][1]


PLAIN = _page(reading())
RICH = _page(FULL, lists_taken_at="2026-03-10T05:00:00.000-04:00", clock_state="not yet agreed")

ODD_VALUES: list[Any] = [
    None, "", "x", "x" * 41, "x" * 2_001, "\n", "é", "3", "-0", "-0.50", ".5", "1e3", "٣", "P-101", 0, 1, -1, 1.0, 2.5,
    True, 10**6, 10**6 + 1, 2**53, 2**63, 2**64, [], ["lot"], ["lot", "part"], ["X23"], ["X23;X24"], ["X2"], [None],
    {}, [{}], [{"text": "a", "asked": []}], [{"text": "a", "asked": ["X1"]}], [{"asked": [], "text": None}],
    [{"asked": [], "text": "a"}] * 21, "run", "RUN", "Out of tolerance", "Counts", "degC", "reading", "check",
    "2026-03-10T23:58:30.000-04:00", "2026-02-30T00:00:00.000-04:00", "2026-03-10T24:00:00.000-04:00",
    "2026-03-10T23:58:60.000-04:00", "2026-03-10T23:58:30.000-24:00", "0000-01-01T00:00:00.000+00:00",
    "0001-01-01T00:00:00.000+14:00", "9999-12-31T23:59:59.999-14:00", "2026-03-10T23:58:30.000-04:60",
    "2026-03-10T23:58:30.000Z", "2026-03-10T23:58:30-04:00", "ab" * 32, "AB" * 32, "S12-a/5", "S12-a/0",
]  # fmt: skip
FIELDS = [("act", name) for name in Reading.model_fields] + [("", name) for name in Page.model_fields]
WRITERS: list[Callable[[Any], bytes]] = [
    lambda told: orjson.dumps(told, option=orjson.OPT_SORT_KEYS),
    orjson.dumps,
    lambda told: json.dumps(told, sort_keys=True).encode(),
    lambda told: json.dumps(told, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "replace"),
]


def _changed(base: bytes, field: tuple[str, str], value: Any, writer: Callable[[Any], bytes]) -> bytes:
    told = orjson.loads(base)
    within, name = field
    place = told[within] if within else told
    if value is None:
        place.pop(name, None)
    else:
        place[name] = value
    try:
        return writer(told)
    except TypeError:  # a whole number that orjson itself cannot write
        return json.dumps(told, sort_keys=True, separators=(",", ":")).encode()


changed_pages = st.builds(
    _changed, st.sampled_from([PLAIN, RICH]), st.sampled_from(FIELDS), st.sampled_from(ODD_VALUES),
    st.sampled_from(WRITERS),
)  # fmt: skip
broken_bytes = st.sampled_from(
    [PLAIN[:-1], PLAIN + b" ", b" " + PLAIN, PLAIN + PLAIN, b"", b"null", b"[]", b"\xff\xfe",
     PLAIN.replace(b"L-411", b"\xff"),
     PLAIN.replace(b'"unit":"in"', b'"unit":"in","unit":"in"'), PLAIN.replace(b'"unit":"in"', b'"unit":"in","why":1'),
     PLAIN.replace(b'"L-411"', b'"L-\\u0034"'), PLAIN.replace(b'"L-411"', b'"\\ud800"'), b"[" * 500, b'{"a":' * 500]
)  # fmt: skip


@given(st.lists(st.one_of(st.just(PLAIN), st.just(RICH), changed_pages, broken_bytes), max_size=12))
@example([PLAIN, RICH])
@example([b"null"])
@example([RICH.replace(b"2026-03-10T10:05:00.000-04:00", b"2026-03-10T10:05:00.000-04:60")])
@example([PLAIN, b"null", b'{"act":null}', b'{"act":{}}', b'{"act":{"lot":{}}}'])
@example([PLAIN.replace(b'"replaces"', b'"x"'), RICH.replace(b'"replaces":3', b'"replaces":9007199254740993')])
def test_a_batch_takes_exactly_the_pages_that_their_models_take(pages: list[bytes]) -> None:
    """The models are the definition; the columns may neither take more nor less, whatever stands beside a page."""
    arrived = [Arrived("S12-a", place, fingerprint(page), 0, page) for place, page in enumerate(pages, 1)]

    table, faults = readings_frame(arrived)

    assert table["number"].to_pylist() == [each.number for each in arrived if not check_one(each.page)]
    assert [each.number for each, _ in faults] == [each.number for each in arrived if check_one(each.page)]
    assert all(why for _, why in faults)


@pytest.mark.slow
@pytest.mark.parametrize("base", [PLAIN, RICH])
def test_every_odd_value_in_every_field_is_judged_alike_both_ways(base: bytes) -> None:
    """No corner left to chance: some 3,000 pages, each alone."""
    for field in FIELDS:
        for value in ODD_VALUES:
            page = _changed(base, field, value, WRITERS[0])

            table, _ = readings_frame([Arrived("S12-a", 1, "", 0, page)])

            assert table.num_rows == (not check_one(page)), (field, value)


@pytest.mark.parametrize("raw", [PLAIN, RICH])
def test_a_row_says_what_its_page_says(raw: bytes) -> None:
    """Read back through the page model, field by field."""
    page = Page.model_validate_json(raw)
    act = page.act
    assert isinstance(act, Reading)

    (row,) = readings_frame([Arrived("S12-a", 1, fingerprint(raw), 7, raw)])[0].to_pylist()

    told = act.model_dump(mode="json", exclude={"kind", "typed", "reasons", "earlier"})
    assert {name: row[name] for name in told} == told
    assert row["typed"] == ";".join(act.typed)
    assert row["reasons"] == ";".join(act.reasons)
    assert json.loads(row["earlier"] or "[]") == act.model_dump(mode="json")["earlier"]
    for name in ("out_of_heat_at", "paper_taken_at"):
        own = getattr(act, name)
        assert row[name + "_ms"] == (None if own is None else round(read_time(own).timestamp() * 1000))
    assert (row["person"], row["clock_state"], row["received_at_ms"]) == (page.person, page.clock_state, 7)


def test_every_field_of_a_reading_has_its_column() -> None:
    """A field added to the page cannot be forgotten on the way to the rules."""
    fields = {name for name in Reading.model_fields if name != "kind"}

    assert fields <= set(READINGS_SCHEMA.names)


def test_the_offset_and_the_moment_of_the_hour_that_comes_twice_are_kept_apart() -> None:
    """1 November 2026, 01:20 before and after the change: one hour apart, worked by hand from the offsets."""
    pages = [
        _page(reading(), kiosk_time="2026-11-01T01:20:00.000-04:00"),
        _page(reading(), kiosk_time="2026-11-01T01:20:00.000-05:00"),
    ]

    table, _ = readings_frame([Arrived("S12-a", n, "", 0, page) for n, page in enumerate(pages)])

    first, second = table["kiosk_time_ms"].to_pylist()
    assert second - first == 3_600_000
    assert table["kiosk_offset_min"].to_pylist() == [-240, -300]


def test_other_pages_are_kept_whole_and_a_faulty_one_is_told() -> None:
    """Every other kind goes through its model; a time that does not exist is a fault like any other."""
    book = book_of(4)
    good = book.kept[3][1]
    hot = MemoryBook()
    hot.keep(OutOfHeat(lot="L-420", out_at="2026-03-10T10:05:00.000-04:00"))
    hot.keep(OutOfHeat(lot="L-420", out_at="2026-03-10T29:05:00.000-04:00"))
    pages = [good, good.replace(b'"words"', b'"wordz"'), hot.kept[0][1], hot.kept[1][1]]

    table, faults = acts_frame([Arrived("S12-a", n, "", 0, page) for n, page in enumerate(pages)])

    assert table["page"].to_pylist() == [pages[0], pages[2]]
    assert table["kind"].to_pylist() == ["remark", "out of heat"]
    assert [(each.number, why) for each, why in faults][1] == (3, "a time in it does not exist")


@given(st.text(max_size=300))
def test_words_of_any_alphabet_pass_unchanged(words: str) -> None:
    """A quick way of writing canonical bytes is held to RFC 8785's own library."""
    try:
        page = Page(
            plant="PL-1", series="S12-a", number=1, station="S12", kiosk_time="2026-03-10T10:05:00.000-04:00",
            running_ms=0, session=1, previous=FIRST_PREVIOUS, filler="0" * 32, act=Remark(words=words),
        )  # fmt: skip
        raw = canonical_bytes(page)
    except (ValueError, UnicodeEncodeError):
        return

    table, faults = acts_frame([Arrived("S12-a", 1, "", 0, raw)])

    assert (table["page"].to_pylist(), faults) == ([raw], [])
