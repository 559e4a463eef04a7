"""What a signature covers: never more than was known when it was given, and nothing without the authority for it."""

from datetime import UTC, date, datetime

import pytest

from consolidator.close import CarriedOver
from tests.unit.consolidator.held_builder import HeldBuilder, exception_of, held_lots, marks_of, row_of

NEXT_DAY = (date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))
MARCH_11 = (date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC))


def _march_9(clock: str) -> str:
    return f"2026-03-09T{clock}:00.000-04:00"


def _ms(day: int, hour_utc: int) -> int:
    return int(datetime(2026, 3, day, hour_utc, tzinfo=UTC).timestamp() * 1000)


def _close_exception(builder: HeldBuilder, key: str, at: str, person: str = "P-106") -> None:
    builder.act(at, {"kind": "exception close", "exception": key, "reason": "looked into"}, person=person)


def test_closing_an_exception_covers_no_reading_made_after_it() -> None:
    """Nothing good is retroactive: closed at 12:00, the same cause at 14:00 is open until somebody closes it again."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3122", lot="L-999", piece=1)
    _close_exception(builder, "X44:L-999:2026-03-09", _march_9("12:00"))
    covered = exception_of(builder.close(), "X44")["state"]
    builder.reading(_march_9("14:00"), ".3122", lot="L-999", piece=2)
    again = exception_of(builder.close(), "X44")["state"]
    _close_exception(builder, "X44:L-999:2026-03-09", _march_9("16:00"))
    settled = exception_of(builder.close(), "X44")

    assert (covered, again) == ("closed", "open")
    assert (settled["state"], settled["closed_by"]) == ("closed", "desk-a/2")


def test_closing_an_exception_covers_no_reading_that_was_not_in_yet() -> None:
    """A page made 09:30 and in at 14:00 was not known to whoever signed at 12:00."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3122", lot="L-999", piece=1)
    _close_exception(builder, "X44:L-999:2026-03-09", _march_9("12:00"))
    builder.reading(_march_9("09:30"), ".3122", lot="L-999", piece=2, series="S12-b", received_at_ms=_ms(9, 18))

    assert exception_of(builder.close(), "X44")["state"] == "open"


def test_a_carried_exception_raised_anew_stays_open_past_an_older_signature() -> None:
    """Open on the 9th, closed on the 10th at 09:00, raised again on the 10th at 12:00: open, with its old age."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3122", lot="L-999", piece=1)
    first = builder.close()
    _close_exception(builder, "X44:L-999:2026-03-09", "2026-03-10T09:00:00.000-04:00")
    alone = builder.close(*NEXT_DAY, CarriedOver.of([first]))
    builder.reading("2026-03-10T12:00:00.000-04:00", ".3122", lot="L-999", piece=2)

    second = builder.close(*NEXT_DAY, CarriedOver.of([first]))

    assert exception_of(alone, "X44")["state"] == "closed"
    assert (exception_of(second, "X44")["state"], exception_of(second, "X44")["key"]) == (
        "open",
        "X44:L-999:2026-03-09",
    )


@pytest.mark.parametrize(("person", "state"), [("P-101", "open"), ("P-104", "closed")], ids=["operator", "quality"])
def test_an_exception_is_closed_only_by_somebody_who_may(person: str, state: str) -> None:
    """4.7: a badge alone records readings and nothing else."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3122", lot="L-999")
    _close_exception(builder, "X44:L-999:2026-03-09", _march_9("12:00"), person)

    assert exception_of(builder.close(), "X44")["state"] == state


@pytest.mark.parametrize(
    ("first", "second", "standing"),
    [("P-104", "P-108", "Released"), ("P-104", "P-102", "Blocked"), ("P-102", "P-108", "Blocked")],
    ids=["two who may", "second may not", "first may not"],
)
def test_a_release_needs_two_persons_who_may_release(first: str, second: str, standing: str) -> None:
    """4.6: the second signer is currently authorised for that act, and so is the first."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    _release(builder, page, "2026-03-11T14:00:00.000-04:00", (first, second))

    assert row_of(builder.close(*MARCH_11), page)["standing"] == standing


def _release(builder: HeldBuilder, page: str, found_at: str | None, signers: tuple[str, str]) -> None:
    found = None if found_at is None else builder.act(found_at, {"kind": "remark", "words": "as-found good"})
    release = {"kind": "release", "readings": [page], "evidence": [found or "desk-a/9"], "reason": "as-found good"}
    ref = builder.act("2026-03-11T15:00:00.000-04:00", release, person=signers[0])
    sign = {"kind": "second signature", "of": ref, "meaning": "released"}
    builder.act("2026-03-11T15:05:00.000-04:00", sign, person=signers[1])


@pytest.mark.parametrize(
    ("found_at", "standing"),
    [("2026-03-11T14:00:00.000-04:00", "Released"), ("2026-03-11T08:59:00.000-04:00", "Blocked"), (None, "Blocked")],
    ids=["after the reading", "before it", "no such page"],
)
def test_a_release_needs_fresh_evidence(found_at: str | None, standing: str) -> None:
    """3.3.6: read 09:00; what was known before it, or a page nobody holds, bears nothing out."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    _release(builder, page, found_at, ("P-104", "P-108"))

    assert row_of(builder.close(*MARCH_11), page)["standing"] == standing


@pytest.mark.parametrize(
    ("person", "held"), [("P-102", {"L-411": {"X23"}}), ("P-106", {})], ids=["operator", "manager"]
)
def test_a_hold_is_lifted_only_by_somebody_who_may(person: str, held: dict[str, set[str]]) -> None:
    """A hold stays until a disposition or a lift of somebody with the authority."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3126")
    lift = {"kind": "hold lift", "lot": "L-411", "reason": "sorted"}
    builder.act(_march_9("12:00"), lift, person=person)

    assert held_lots(builder.close()) == held


def test_a_reject_of_an_earlier_day_that_came_after_the_lift_keeps_the_lot_on_hold() -> None:
    """Read on the 9th and in on the 10th at 10:00, lifted on the 10th at 09:00: nobody had seen it."""
    builder = HeldBuilder()
    builder.reading(_march_9("09:00"), ".3126", received_at_ms=_ms(10, 14))
    first = builder.close()
    lift = {"kind": "hold lift", "lot": "L-411", "reason": "sorted"}
    builder.act("2026-03-10T09:00:00.000-04:00", lift)
    unseen = builder.close(*NEXT_DAY, CarriedOver.of([first]))
    builder.act("2026-03-10T11:00:00.000-04:00", lift)
    seen = builder.close(*NEXT_DAY, CarriedOver.of([first]))

    assert held_lots(unseen) == {"L-411": {"X23"}}
    assert held_lots(seen) == {}


def _extend(builder: HeldBuilder, at: str, old: str, new: str) -> None:
    extension = {"kind": "extension", "gauge": "G-107", "old_due": old, "new_due": new, "reason": "no swap",
                 "evidence": "five good in a row"}  # fmt: skip
    ref = builder.act(f"{at}:00.000-04:00", extension, person="P-105")
    sign = {"kind": "second signature", "of": ref, "meaning": "approved"}
    builder.act(f"{at}:30.000-04:00", sign, person="P-108")


@pytest.mark.parametrize(
    ("signed", "blocked"),
    [("2026-03-10T23:59", False), ("2026-03-11T00:00", True), ("2026-03-11T08:00", True)],
    ids=["before midnight", "at midnight", "in the morning"],
)
def test_an_extension_signed_after_the_due_date_ended_changes_nothing(signed: str, blocked: bool) -> None:
    """X83: G-107 is due 10 March 24:00; what is signed later puts nothing back, not even for later readings."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    _extend(builder, signed, "2026-03-10", "2026-03-17")

    assert ("X01" in marks_of(builder.close(*MARCH_11), page)) is blocked


def test_a_due_date_is_put_back_once() -> None:
    """An extension of an extension changes nothing: due 10 March, put back to the 11th, not again to the 31st."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-12T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    _extend(builder, "2026-03-10T09:00", "2026-03-10", "2026-03-11")
    _extend(builder, "2026-03-11T09:00", "2026-03-11", "2026-03-31")

    closed = builder.close(date(2026, 3, 12), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))

    assert row_of(closed, page)["due"] == "2026-03-11"
    assert "X01" in marks_of(closed, page)
