"""A page is read back as it was written, or refused with a reason."""

import hashlib
import json
from typing import Any, get_args

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, TypeAdapter

from kiosk.errors import NewerFormat, PageNotUnderstood
from kiosk.pages import FIRST_PREVIOUS, AnyAct, Page, canonical_bytes, fingerprint, read_page
from kiosk.pages.readings import Reading
from kiosk.pages.station import Remark


def _page(act: object, **envelope: Any) -> Page:
    told: dict[str, Any] = {
        "plant": "P-INV",
        "series": "S12-a",
        "number": 1,
        "station": "S12",
        "kiosk_time": "2026-03-10T23:58:30.000-04:00",
        "running_ms": 5,
        "session": 1,
        "previous": FIRST_PREVIOUS,
        "filler": "0" * 32,
        "act": act,
    }
    return Page.model_validate(told | envelope)


def _reading(**fields: Any) -> Reading:
    told: dict[str, Any] = {
        "lot": "L-411",
        "operation": "60",
        "part": "B-3124",
        "revision": "C",
        "plan_version": "1",
        "characteristic": "BC1",
        "sample": 1,
        "piece": 1,
        "gauge": "G-108",
        "keyed": ".3122",
        "unit": "in",
        "value": "0.3122",
        "verdict": "In tolerance",
        "standing": "Counts",
    }
    return Reading.model_validate(told | fields)


def test_a_page_written_is_the_page_read() -> None:
    """Nothing of a page is lost between its bytes and its model."""
    page = _page(_reading())

    assert read_page(canonical_bytes(page)) == page


@given(st.text(max_size=40), st.text(max_size=40))
def test_whatever_was_keyed_comes_back_character_by_character(keyed: str, words: str) -> None:
    """Odd characters in a keying or a remark survive; text that is not Unicode text is refused at the door."""
    try:
        page = _page(_reading(keyed=keyed, remark=words))
        written = canonical_bytes(page)
    except (ValueError, rfc8785.CanonicalizationError):
        assert any(0xD800 <= ord(letter) <= 0xDFFF for letter in keyed + words)
        return

    back = read_page(written).act

    assert isinstance(back, Reading)
    assert (back.keyed, back.remark) == (keyed, words)


def test_canonical_bytes_follow_the_published_example_of_key_order() -> None:
    """RFC 8785 section 3.2.3 sorts by UTF-16 code units; our bytes are the library's for the same JSON value."""
    page = _page(_reading())
    value = json.loads(canonical_bytes(page))

    assert canonical_bytes(page) == rfc8785.dumps(value)
    assert list(value) == sorted(value)


def test_the_fingerprint_is_plain_sha_256() -> None:
    """FIPS 180-4 example: SHA-256 of 'abc'."""
    assert fingerprint(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert fingerprint(b"") == hashlib.sha256(b"").hexdigest()


def test_a_page_of_a_newer_program_is_refused_by_name() -> None:
    """A newer format is never guessed at."""
    newer = canonical_bytes(_page(Remark(words="x"))).replace(b'"format":1', b'"format":2')

    with pytest.raises(NewerFormat, match="page format 2"):
        read_page(newer)


@pytest.mark.parametrize(
    "damage",
    [b"", b"\x00" * 100, b"[1]", b"{}", b'{"format":1}', b"[" * 100_000, b'{"format":"1"}', b"\xff\xfe"],
)
def test_bytes_that_are_no_page_are_refused_with_a_reason(damage: bytes) -> None:
    """Foreign, truncated and deeply nested bytes are told plainly."""
    with pytest.raises(PageNotUnderstood, match="no page"):
        read_page(damage)


def test_the_same_page_in_other_bytes_is_refused() -> None:
    """Only the canonical bytes are the page, or two different byte strings could claim one meaning."""
    written = canonical_bytes(_page(Remark(words="x")))

    with pytest.raises(PageNotUnderstood, match="canonical"):
        read_page(written.replace(b'"format":1', b'"format": 1'))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("value", "1e5"),
        ("value", ".3122"),
        ("value", "0,3122"),
        ("piece", 0),
        ("keyed", "9" * 65),
        ("verdict", "fine"),
        ("standing", "Released twice"),
        ("unheard_of", 1),
        ("paper_taken_at", "2026-03-10 23:58"),
        ("re_measure_of", "S12-a/0"),
    ],
)
def test_a_reading_with_a_wrong_field_cannot_be_made(field: str, value: object) -> None:
    """A wrong state is impossible rather than checked later."""
    with pytest.raises(ValueError, match=field):
        _reading(**{field: value})


def test_every_kind_of_act_has_its_own_name() -> None:
    """A page's kind tells its model, so no two kinds share a name."""
    models = get_args(get_args(AnyAct)[0])
    kinds = [model.model_fields["kind"].default for model in models]

    assert len(kinds) == len(set(kinds)) >= 50
    assert TypeAdapter(AnyAct).json_schema()["discriminator"]["propertyName"] == "kind"


def test_a_page_cannot_be_changed() -> None:
    """Nothing is ever overwritten."""
    page = _page(Remark(words="x"))

    with pytest.raises(ValueError, match="frozen"):
        page.number = 2  # type: ignore[misc]


def _models_of(model: type[BaseModel], found: set[type[BaseModel]]) -> None:
    if model in found:
        return
    found.add(model)
    for field in model.model_fields.values():
        waiting: list[Any] = [field.annotation]
        while waiting:
            part = waiting.pop()
            waiting += get_args(part)
            if isinstance(part, type) and issubclass(part, BaseModel):
                _models_of(part, found)


def test_a_field_that_may_be_empty_may_be_left_out() -> None:
    """Canonical bytes leave out what is empty, so a page whose empty field had to be there could not be read back."""
    models: set[type[BaseModel]] = set()
    _models_of(Page, models)

    strict = [
        f"{model.__name__}.{name}"
        for model in models
        for name, field in model.model_fields.items()
        if type(None) in get_args(field.annotation) and field.is_required()
    ]

    assert len(models) > 50
    assert strict == []
