"""The acceptance run of a new kiosk, on its screens: ten readings, a real kill, both carries, two signatures."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from consolidator.intake import Archive, Intake, issue_stick, load_stick, make_server
from consolidator.plant import Plant
from kiosk.carry import Enrolment
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.station import AcceptanceSigned
from tests.browser.kiosks import Served, make_kiosk, one_port
from tests.browser.person import Person
from tests.unit.kiosk.acceptance.training import training_lists
from tests.unit.served import served

pytestmark = pytest.mark.browser
PIN = "274951"


def lists_for_today() -> Lists:
    """Return the training lists with gauges in date for ever, but the one that is to be out."""
    lists = training_lists()
    gauges = tuple(
        one if one.number == "G-100" else one.model_copy(update={"due": date(2099, 12, 31)}) for one in lists.gauges
    )
    return training_lists(gauges=gauges)


def a_kiosk(folder: Path, address: str, stick: Path) -> Served:
    """Return a kiosk that carries every second to this address and by this stick, with the PINs of who signs."""
    known = {person: {"hash": PasswordHasher(time_cost=1, memory_cost=1024).hash(PIN)} for person in ("P-105", "P-106")}
    (folder / "pins.json").write_text(json.dumps({"format": 1, "pins": known}))
    (folder / "pins.json").chmod(0o600)
    Enrolment.open(folder).model_copy(update={"address": address}).write(folder)
    settings = {"KIOSK_CARRY_EVERY_S": "1", "KIOSK_STICK_FOLDER": str(stick)}
    return Served(folder, one_port(), settings=settings)


def measure(person: Person, gauge: str, *figures: str) -> None:
    """Scan the gauge and key figures with all their digits; each is seen before the next is keyed."""
    person.scan(gauge)
    for figure in figures:
        person.sees("Piece")
        person.settle()
        person.touch(*figure, "Keep")
        person.sees_in_words("Look again" if figure in ("3.1225", "7.931") else "Kept")


def test_a_new_kiosk_shows_that_it_answers_as_it_should_and_two_persons_sign(
    tmp_path: Path, somebody: Callable[..., Person]
) -> None:
    """As the screen says it, step by step; the plug is a SIGKILL; nothing of it gets into a ledger."""
    folder = make_kiosk(tmp_path, lists=lists_for_today())
    plant, stick = Plant.open(tmp_path / "plant"), tmp_path / "stick"
    with Intake(plant) as intake:
        issue_stick(intake, stick, "K-7", datetime.now(UTC))
    with served(make_server(plant, host="127.0.0.1", port=0, is_plain=True)) as address:
        kiosk = a_kiosk(folder, address, stick)
        kiosk.start()
        try:
            person = somebody(kiosk)
            _ten_readings(person, kiosk)
            _carried_and_signed(person, kiosk, plant, stick)
        finally:
            kiosk.stop()

    signed = [page for page in kiosk.pages() if isinstance(page.act, AcceptanceSigned)]
    assert [page.person for page in signed] == ["P-106", "P-105"]
    with Archive(plant) as archive:
        held = archive.held(datetime.now(UTC).date(), by_utc=datetime.now(UTC))
    assert held.readings.num_rows == _count(kiosk.pages(), "reading")


def _ten_readings(person: Person, kiosk: Served) -> None:
    person.scan("B-101")
    person.sees("Badged in")
    person.scan("T-1")
    person.sees("What is measured")
    person.settle()
    _to_the_run(person)
    person.pick("Begin the run")
    person.sees_in_words("1 of 10: in tolerance")
    person.settle()
    person.pick("Go and do it")
    person.pick("TC1")
    person.sees("TC1: scan the gauge")
    measure(person, "G-108", ".31225", ".31260", ".31250", "3.1225", ".31225", "7.931", ".31205")
    person.sees("Sample all in")
    person.settle()
    person.pick("End the sample")
    person.sees("What is measured")
    person.settle()
    person.pick("TC1")
    person.sees("TC1: scan the gauge")
    measure(person, "G-108", ".31250")
    kiosk.kill()
    person.away()
    kiosk.start()
    person.ready().sees("1 of 5 done")
    person.touch(*".31225", "Keep")
    person.sees("Kept")
    person.settle()
    person.scan("G-100")
    person.sees("STOP. G-100 is past its due date")
    person.settle()
    person.pick("Measure with it all the same")
    person.touch(*".31205", "Keep")
    person.sees_in_words("do not count")
    person.settle()
    person.touch("Back")
    person.pick("TC2")
    person.scan("G-505")
    person.sees("STOP. G-505 was not taken")
    person.pick("Take another gauge")
    person.scan("G-512")
    person.sees("Piece 1")
    person.settle()
    person.touch("Accept")
    person.sees("Kept")
    person.settle()
    person.touch("Back")
    person.touch("I dropped it")
    person.pick("G-108")
    person.sees("Nobody is blamed")
    person.settle()
    person.pick("Go on")
    person.touch("Back")
    person.pick("TC1")
    person.scan("G-108")
    person.sees_in_words("G-108 for TC1: read this first")
    person.settle()
    person.pick("Measure with it all the same")
    person.touch(*".31225", "Keep")
    person.sees_in_words("Kept")
    person.settle()


def _to_the_run(person: Person) -> None:
    person.touch("More")
    for words in ("More of these", "This kiosk", "Acceptance run"):
        person.pick(words)


def _carried_and_signed(person: Person, kiosk: Served, plant: Plant, stick: Path) -> None:
    person.touch("Back")
    person.sees("What is measured")
    _to_the_run(person)
    person.sees("All ten as expected")
    person.pick("Carry by stick")
    person.sees_in_words("On the stick")
    with Intake(plant) as intake:
        load_stick(intake, stick, datetime.now(UTC))
    person.pick("Carry by stick")
    person.sees("All ten as expected, all carried.")
    person.pick("Sign")
    for badge, asked in (("B-106", "The quality manager's badge"), ("B-105", "The calibrator's badge")):
        person.sees(asked)
        person.settle()
        person.scan(badge)
        person.sees_in_words("Your PIN")
        person.touch(*PIN, "Keep")
        person.sees("Signed by")
    assert kiosk.comes_to(lambda pages: _count(pages, "acceptance run signed") == 2)


def _count(pages: list[Page], kind: str) -> int:
    return sum(page.act.kind == kind for page in pages)
