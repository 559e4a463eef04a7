"""An invented training lot with all that the ten readings need, and a person who does them right."""

from datetime import date

from kiosk.acceptance import Run, offer
from kiosk.lists import Lists, Lot, Part, Person, Plan, Qualification
from kiosk.lists.words import CharacteristicKind, GaugeKind, Level, Member
from kiosk.pages.station import PowerOn
from tests.unit.kiosk.acts.at_a_screen import AtAScreen
from tests.unit.kiosk.plant import LISTS, THREAD, _characteristic, _gauge, lists_with

SIZED = _characteristic(
    "TC1", "60", CharacteristicKind.TWO_SIDED, part="T-0001", lower="0.3120", upper="0.3125",
    gauge_kinds=(GaugeKind.MICROMETER,), interval_min=None,
)  # fmt: skip
THREADED = _characteristic(
    "TC2", "60", CharacteristicKind.ACCEPT_REJECT, part="T-0001", unit="accept/reject", member=Member.GO,
    gauge_kinds=(GaugeKind.THREAD_RING,), interval_min=None,
)  # fmt: skip


def training_lists(**changes: object) -> Lists:
    """Return the invented lists with training lot T-1, a gauge past its due date, and who signs."""
    return lists_with(**{
        "gauges": (
            *LISTS.gauges,
            _gauge("G-100", GaugeKind.MICROMETER, "0.0001", "2026-03-01", range_low="0", range_high="1"),
            _gauge("G-512", GaugeKind.THREAD_RING, None, "2099-12-31", unit=None, thread=THREAD, member=Member.GO),
        ),
        "parts": (*LISTS.parts, Part(number="T-0001", name="training piece (invented)", revision="C", thread=THREAD)),
        "characteristics": (*LISTS.characteristics, SIZED, THREADED),
        "plans": (*LISTS.plans, Plan(part="T-0001", revision="C", operation="60", version="C1")),
        "lots": (*LISTS.lots, Lot(number="T-1", part="T-0001", revision="C", heat="H-1", quantity=10,
                                  is_training=True)),
        "people": (*LISTS.people, Person(number="P-105", name="Eve", badges=("B-105",)),
                   Person(number="P-106", name="Fay", badges=("B-106",))),
        "qualifications": (
            *LISTS.qualifications,
            Qualification(person="P-105", operation="*", level=Level.CALIBRATOR, valid_from=date(2024, 1, 8)),
            Qualification(person="P-106", operation="*", level=Level.QUALITY_MANAGER, valid_from=date(2024, 1, 8)),
        ),
        **changes,
    })  # fmt: skip


def at_training(lists: Lists | None = None) -> tuple[AtAScreen, Run]:
    """Badge in and open the training lot at a kiosk that offers the run."""
    person = AtAScreen(lists=lists or training_lists())
    run = Run(person.steps, lambda number: tuple(person.post.book.pages[number - 1 :]), ())
    offer(person.steps, run)
    person.scan("B-101", "T-1")
    return person, run


def begun(lists: Lists | None = None) -> tuple[AtAScreen, Run]:
    """Begin the run."""
    person, run = at_training(lists)
    return person.more("This kiosk", "Acceptance run").pick("Begin the run"), run


def power_on(person: AtAScreen) -> None:
    """Let the kiosk come back: a page says it."""
    person.post.book.keep(
        PowerOn(last_number=len(person.post.book.pages), program="kiosk"),
        person=None, lists_version=1, lists_taken_at=None, clock_state=person.post.book.pages[-1].clock_state,
    )  # fmt: skip


def first_five(person: AtAScreen) -> None:
    """In, out, at the limit, decimal slip and unit slip, with G-108; then the sample is ended."""
    person.more("Acceptance run").pick("Go and do it").pick("TC1").scan("G-108")
    for keyed in (".31225", ".3126", ".3125"):
        person.key(keyed)
    person.key("3.1225").key(".31225").key("7.931").key(".31205").pick("End the sample")


def power(person: AtAScreen) -> None:
    """A piece, the plug, the next piece of the same sample."""
    person.pick("TC1").scan("G-108").key(".3125")
    power_on(person)
    person.key(".31225")


def last_four(person: AtAScreen) -> None:
    """Past due, wrong thread, accept, dropped."""
    person.scan("G-100").pick("Measure with it all the same").key(".31205").press("pick back")
    person.pick("TC2").scan("G-505").pick("Take another gauge").scan("G-512").pick("Accept").press("pick back")
    person.more("Gauges and checks", "I dropped it").pick("G-108", "Go on")


def dropped(person: AtAScreen) -> None:
    """Measure with the dropped gauge all the same."""
    person.press("pick back").pick("TC1").scan("G-108").pick("Measure with it all the same").key(".31225")


def all_ten(lists: Lists | None = None) -> tuple[AtAScreen, Run]:
    """Do all ten as the screen says."""
    person, run = begun(lists)
    for some in (first_five, power, last_four, dropped):
        some(person)
    return person, run
