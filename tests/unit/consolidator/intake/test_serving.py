"""The intake's answers over HTTP: to anything at all, and never with more than a clear refusal."""

import asyncio
import base64
from collections.abc import AsyncIterator
from pathlib import Path

import httpx2
import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from consolidator.intake import make_app
from consolidator.plant import Plant
from kiosk.carry import Contact, Keys, ListsRequest
from kiosk.carry.contacts import STATEMENT_FIELD, in_one_field
from kiosk.carry.statements import write_statement
from kiosk.times import write_time
from tests.unit.carried import MORNING, Hand, book_of, enrolled, make_plant, packets_of, take_over_lists


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An invented plant."""
    return make_plant(tmp_path / "plant")


@pytest.fixture
def keys(plant: Plant, tmp_path: Path) -> Keys:
    """Keys of the enrolled series S12-a."""
    return enrolled(plant, tmp_path / "kiosk")


def ask(
    app: FastAPI, method: str, path: str, content: bytes | AsyncIterator[bytes] = b"", *, statement: str = ""
) -> httpx2.Response:
    """Ask the application without a port."""

    async def once() -> httpx2.Response:
        transport = httpx2.ASGITransport(app=app)
        async with httpx2.AsyncClient(transport=transport, base_url="http://intake") as client:
            return await client.request(method, path, content=content, headers={STATEMENT_FIELD: statement})

    return asyncio.run(once())


def contact(**more: object) -> Contact:
    """Return a contact of S12-a."""
    told = {"plant": "PL-1", "series": "S12-a", "kiosk_time": write_time(MORNING), "running_ms": 1, "session": 1}
    return Contact.model_validate({**told, "last": 0, **more})


def test_a_packet_is_answered_with_a_receipt_and_twice_with_the_same(plant: Plant, keys: Keys) -> None:
    """Idempotent: the answer to the second is what is held, as to the first."""
    app = make_app(plant, now=Hand())
    (raw,) = packets_of(book_of(5), keys)

    first, second = (ask(app, "POST", "/carry/v1/packets", raw) for _ in range(2))

    assert (first.status_code, second.status_code) == (200, 200)
    assert b'"held":[[1,5]]' in first.content
    assert b'"held":[[1,5]]' in second.content


@pytest.mark.parametrize(
    ("path", "status"),
    [("/carry/v1/packets", 422), ("/carry/v1/contact", 422), ("/carry/v1/lists/1", 405), ("/carry/v2/packets", 404)],
)
def test_a_gigabyte_of_zeros_is_refused_after_its_first_pieces(plant: Plant, path: str, status: int) -> None:
    """It costs the intake no more than one packet's limit, whatever is still to come."""
    sent = 0

    async def zeros() -> AsyncIterator[bytes]:
        nonlocal sent
        for _ in range(1_000):
            sent += 1_048_576
            yield b"\0" * 1_048_576

    answer = ask(make_app(plant, now=Hand()), "POST", path, zeros())

    assert answer.status_code == status
    assert sent <= 20 * 1_048_576


@given(raw=st.one_of(st.binary(max_size=2_000), st.just(b"[" * 100_000), st.just(b'{"a":' * 50_000 + b"\n")))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.parametrize("path", ["/carry/v1/packets", "/carry/v1/contact"])
def test_any_bytes_at_all_are_refused_in_words(plant: Plant, path: str, raw: bytes) -> None:
    """Never a fault of the program, never silence."""
    answer = ask(make_app(plant, now=Hand()), "POST", path, raw)

    assert answer.status_code == 422
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.text.count(".") >= 2


@pytest.mark.parametrize(
    ("more", "status", "words"),
    [
        ({"series": "S99-a"}, 403, "not enrolled"),
        ({"plant": "PL-2"}, 422, "this is plant PL-1"),
        ({}, 422, "signature"),
    ],
)
def test_a_contact_that_nobody_here_signed_is_refused_and_not_noted(
    plant: Plant, keys: Keys, more: dict[str, str], status: int, words: str
) -> None:
    """A false contact would set clocks wrong."""
    raw = write_statement(contact(**more), Keys.make().signing)

    answer = ask(make_app(plant, now=Hand()), "POST", "/carry/v1/contact", raw)

    assert (answer.status_code, words in answer.text) == (status, True)
    assert not (plant.intake / "contacts.jsonl").exists()


def test_lists_are_handed_to_enrolled_kiosks_only_and_by_version(plant: Plant, keys: Keys) -> None:
    """Limits and names are for those who may know them."""
    take_over_lists(plant)
    app = make_app(plant, now=Hand())

    def lists(version: int, signed: int, key: Keys) -> httpx2.Response:
        told = ListsRequest(plant="PL-1", series="S12-a", version=signed)
        return ask(app, "GET", f"/carry/v1/lists/{version}", statement=in_one_field(told, key.signing))

    assert lists(1, 1, keys).status_code == 200
    assert lists(1, 1, Keys.make()).status_code == 422
    assert lists(1, 2, keys).status_code == 422
    assert lists(7, 7, keys).status_code == 404
    assert ask(app, "GET", "/carry/v1/lists/1").status_code == 422
    assert ask(app, "GET", "/carry/v1/lists/x").status_code == 422
    odd = base64.b64encode(b"\0" * 50).decode()
    assert ask(app, "GET", "/carry/v1/lists/1", statement=odd).status_code == 422


def test_a_packet_cannot_pass_for_a_contact(plant: Plant, keys: Keys) -> None:
    """What a statement is stands inside what is signed."""
    (raw,) = packets_of(book_of(5), keys)

    assert ask(make_app(plant, now=Hand()), "POST", "/carry/v1/contact", raw).status_code == 422
    told = write_statement(contact(), keys.signing)
    assert ask(make_app(plant, now=Hand()), "POST", "/carry/v1/packets", told).status_code == 422
