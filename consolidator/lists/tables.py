"""The columns of every list, in the words of the people who keep them: what each means and how its cells are read.

Owns which list has which column; `docs/reference/lists.md` is made from here.
Must not know how a file is read.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, partial
from typing import Final

from kiosk.lists import entries
from kiosk.lists.numbers import FIELD_OF
from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind, GaugeState, Level, MasterKind, Member
from kiosk.pages._base import Frozen


class Form(StrEnum):
    """How a cell is read; the word is the one the reference page prints."""

    TEXT = "text"
    FIGURE = "figure"
    WHOLE = "whole number"
    DATE = "date"
    TIME = "time"
    YES_NO = "yes or no"
    WORD = "one of the words"
    SEVERAL = "several, with ; between"


@dataclass(frozen=True)
class Column:
    """One column: the model's field, how its cells are read, and what the reference page says of it.

    `words` are the only words allowed; empty means any text. `unit` names what a figure or number counts.
    """

    field: str
    form: Form
    meaning: str
    example: str = ""
    unit: str = ""
    words: tuple[str, ...] = ()
    needed: bool = False

    @property
    def heading(self) -> str:
        """The heading as it stands in the file, e.g. `home station`."""
        return heading(self.field)


@dataclass(frozen=True)
class ListTable:
    """One list: the name of its file, the model of its rows, its columns, and what makes two rows the same row.

    `key` ends in `in_force_from` where two rows with different times of force are one thing's history.
    """

    name: str
    model: type[Frozen]
    what: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def field(self) -> str:
        """Name of the list in `kiosk.lists.Lists`."""
        return self.name.replace("-", "_")

    @cached_property
    def by_heading(self) -> dict[str, Column]:
        """The columns by their heading; a yes/no column also with the `is` before it that a question has."""
        asked = {column.field.replace("_", " "): column for column in self.columns}
        return {**{column.heading: column for column in self.columns}, **asked}

    @property
    def headings(self) -> str:
        """Every heading, as a message or page lists them."""
        return ", ".join(column.heading for column in self.columns)

    @property
    def subject(self) -> tuple[str, ...]:
        """The key without its time of force: what the row is about."""
        return tuple(field for field in self.key if field != "in_force_from")


def heading(field: str) -> str:
    """Return the heading a model's field has in a file: `is_key` gives `key`, `home_station` gives `home station`."""
    return field.removeprefix("is_").replace("_", " ")


def _words(enum: Iterable[StrEnum]) -> tuple[str, ...]:
    return tuple(word.value for word in enum)


UNITS: Final = (
    *("in", "mm", "um", "uin", "m", "deg", "HRC", "HRB", "HV", "lbf", "N", "kN", "psi", "ksi", "MPa", "lbf-in", "N-m"),
    *("degF", "degC", "s", "min", "h", "g", "kg", "lb", "%", "cycles", "turns", "pieces", "accept/reject"),
)
"""Every unit a list may name; `accept/reject` stands where there is no figure."""

_text = partial(Column, form=Form.TEXT)
_figure = partial(Column, form=Form.FIGURE)
_whole = partial(Column, form=Form.WHOLE)
_date = partial(Column, form=Form.DATE)
_yes_no = partial(Column, form=Form.YES_NO, words=("yes", "no"))
_word = partial(Column, form=Form.WORD)
_several = partial(Column, form=Form.SEVERAL)
_unit = partial(Column, "unit", Form.WORD, words=UNITS, example="in")
_force = Column("in_force_from", Form.TIME, "from when the row works; empty: from the beginning", "2026-03-11 12:00")
_due = _date("due", meaning="valid to the end of this date, plant time", example="2026-08-31")
_state = _word("state", meaning="where it stands; empty: In use", words=_words(GaugeState), example="In use")
_thread = "designation with class and form"

GAUGES: Final = ListTable(
    "gauges", entries.Gauge, "Every gauge of the register.", ("number", "in_force_from"),
    (
        _text("number", meaning="number engraved on the gauge", example="G-108", needed=True),
        _word("kind", meaning="what it is", words=_words(GaugeKind), example="micrometer", needed=True),
        _text("serial", meaning="maker's serial number", example="77-1402"),
        _unit(meaning="unit the gauge reads in; needed unless it only accepts or rejects"),
        _figure("range_low", meaning="smallest it may be used for", example="0", unit="its unit"),
        _figure("range_high", meaning="largest it may be used for", example="1", unit="its unit"),
        _figure("least_count", meaning="smallest division; needed unless it only accepts or rejects",
                example=".00005", unit="its unit"),
        _yes_no("half_division", meaning="half divisions may be read; empty: no", example="no"),
        _figure("permissible_error", meaning="largest error allowed, its size without a sign",
                example=".0001", unit="its unit"),
        _figure("uncertainty", meaning="expanded uncertainty of its calibration, k = 2",
                example=".00003", unit="its unit"),
        _text("home_station", meaning="station it belongs to", example="S12"),
        _state,
        _text("owner", meaning="plant, the customer, or the employee; empty: plant", example="plant"),
        _whole("interval_days", meaning="calibration interval", example="180", unit="days"),
        _due,
        _text("master", meaning="setting master, setting plug or day-check block it is set on", example="M-14"),
        _text("wires", meaning="wire set of an over-wire micrometer", example="W-24"),
        _text("thread", meaning=f"thread it is made for, {_thread}", example=".3125-24 UNJF-3A"),
        _word("member", meaning="member of a limit gauge", words=_words(Member), example="GO"),
        _text("swap_partner", meaning="gauge that may take its place", example="G-107"),
        _text("drawer", meaning="where it is kept", example="A-2"),
        _force,
    ),
)  # fmt: skip

CALIBRATIONS: Final = ListTable(
    "calibrations", entries.CalibrationRecord, "What is known of each calibration.", ("gauge", "done_at"),
    (
        _text("gauge", meaning="gauge calibrated", example="G-108", needed=True),
        Column("done_at", Form.TIME, "when it was completed", "2025-12-19 15:00", needed=True),
        _text("technician", meaning="person who did it", example="P-105", needed=True),
        _several("masters", meaning="masters used", example="M-01;M-02"),
        _word("as_found", meaning="verdict before any touch", words=("Good", "Out", "Not taken"),
              example="Good", needed=True),
        _word("as_left", meaning="verdict when handed back", words=("Good", "Out"), example="Good", needed=True),
        _due,
        _text("certificate", meaning="certificate number", example="LAB-7001"),
        _figure("room_temperature", meaning="room temperature", example="68.0", unit="temperature unit"),
        _word("temperature_unit", meaning="unit of the temperature; empty: degF", words=("degF", "degC"),
              example="degF"),
    ),
)  # fmt: skip

MASTERS: Final = ListTable(
    "masters", entries.Master, "What gauges are set and calibrated with.", ("number", "in_force_from"),
    (
        _text("number", meaning="number of the master", example="M-14", needed=True),
        _word("kind", meaning="what it is", words=_words(MasterKind), example="setting plug", needed=True),
        _figure("size", meaning="certified size; of a wire set the certified mean wire",
                example=".31225", unit="its unit"),
        _unit(meaning="unit of size, tolerance and uncertainty"),
        _figure("tolerance", meaning="tolerance of a hardness block, its size without a sign",
                example="1.0", unit="its unit"),
        _figure("uncertainty", meaning="expanded uncertainty, k = 2", example=".00001", unit="its unit"),
        _figure("threads_per_inch", meaning="inch thread it is for", example="24", unit="threads per inch"),
        _figure("pitch_mm", meaning="metric thread it is for", example="1.5", unit="mm"),
        _text("thread", meaning=f"thread of a setting plug or ring, {_thread}", example=".3125-24 UNJF-3A"),
        _text("certificate", meaning="certificate number", example="LAB-1014"),
        _text("laboratory", meaning="laboratory that certified it", example="Invented Laboratory"),
        _due,
        _state,
        _force,
    ),
)  # fmt: skip

PEOPLE: Final = ListTable(
    "people", entries.Person, "Everybody who records, checks or signs.", ("number",),
    (
        _text("number", meaning="number of the person", example="P-101", needed=True),
        _text("name", meaning="name as shown", example="Ana", needed=True),
        _several("badges", meaning="badges that stand for the person", example="B-101"),
        _text("language", meaning="language of the screens; empty: en", example="en"),
        _word("hand", meaning="hand the screen is laid out for; empty: right", words=("left", "right"),
              example="right"),
        Column("left_at", Form.TIME, "when the person left the plant", "2026-06-30 14:00"),
    ),
)  # fmt: skip

QUALIFICATIONS: Final = ListTable(
    "qualifications", entries.Qualification, "What each person may do.",
    ("person", "operation", "gauge_kind", "level", "valid_from", "in_force_from"),
    (
        _text("person", meaning="person it is granted to", example="P-101", needed=True),
        _text("operation", meaning="operation it is for; * for all", example="60", needed=True),
        _word("gauge_kind", meaning="gauge kind it is for; * or empty for all", words=("*", *_words(GaugeKind)),
              example="*"),
        _word("level", meaning="what the person is qualified as", words=_words(Level),
              example="operator", needed=True),
        _date("valid_from", meaning="first date", example="2024-01-08", needed=True),
        _date("valid_until", meaning="last date; empty: until withdrawn", example="2030-12-31"),
        _text("granted_by", meaning="person who granted it", example="P-106"),
        _force,
    ),
)  # fmt: skip

PARTS: Final = ListTable(
    "parts", entries.Part, "Every revision of every part.", ("number", "in_force_from"),
    (
        _text("number", meaning="part number", example="B-3124", needed=True),
        _text("name", meaning="plain name", example="bolt", needed=True),
        _text("revision", meaning="drawing revision", example="C", needed=True),
        _force,
        _text("customer", meaning="customer", example="CU-1"),
        _text("specification", meaning="governing specifications with their revisions", example="spec 1 rev B"),
        _text("thread", meaning=f"thread of the part, {_thread}", example=".3125-24 UNJF-3A"),
        _yes_no("is_safety_critical", meaning="a failure can kill; empty: yes", example="yes"),
        _yes_no("is_internal_thread", meaning="a nut or other tapped part; empty: no", example="no"),
    ),
)  # fmt: skip

CHARACTERISTICS: Final = ListTable(
    "characteristics", entries.Characteristic, "What is measured, and its limits exactly as on the drawing.",
    ("part", "revision", "number", "in_force_from"),
    (
        _text("part", meaning="part", example="B-3124", needed=True),
        _text("revision", meaning="revision of the part", example="C", needed=True),
        _text("number", meaning="number on the drawing", example="BC1", needed=True),
        _text("name", meaning="plain name", example="ground shank diameter", needed=True),
        _text("operation", meaning="operation it is measured at", example="60", needed=True),
        _word("kind", meaning="how it is limited", words=_words(CharacteristicKind),
              example="two-sided", needed=True),
        _word("feature", meaning="what it is of; decides what may be done with bad pieces; empty: other",
              words=_words(Feature), example="ground diameter"),
        _unit(meaning="unit of the limits", needed=True),
        _figure("lower", meaning="lower limit; a value equal to it is in tolerance", example=".3120", unit="its unit"),
        _figure("upper", meaning="upper limit; a value equal to it is in tolerance", example=".3125", unit="its unit"),
        _text("derived_from", meaning="feature and thread that lower and upper are computed from; figures that stand"
              " beside it must agree with it", example="pitch diameter of .3125-24 UNJF-3A"),
        _figure("shop_limit", meaning="the shop's own tighter limit, on the side of a single limit",
                example=".003", unit="its unit"),
        _figure("guard_band", meaning="distance inside each limit that is flagged as close",
                example=".00005", unit="its unit"),
        _word("rule", meaning="how the value comes from what is keyed; empty: it is what is keyed",
              words=("over wires",), example="over wires"),
        _figure("threads_per_inch", meaning="inch thread, for the rule over wires",
                example="24", unit="threads per inch"),
        _figure("pitch_mm", meaning="metric thread, for the rule over wires", example="1.5", unit="mm"),
        _figure("turns_allowed", meaning="complete turns a NOT GO may enter", example="3", unit="turns"),
        _word("member", meaning="member of the limit gauge", words=_words(Member), example="GO"),
        _text("thread", meaning="thread the gauge must be made for; empty: the part's", example=".3125-24 UNJF-3A"),
        Column("gauge_kinds", Form.SEVERAL, "gauge kinds allowed", "snap gauge;micrometer",
               words=_words(GaugeKind)),
        _yes_no("is_heated", meaning="pieces come hot to it; empty: no", example="no"),
        _yes_no("can_measure_later", meaning="it can still be measured afterwards; empty: yes", example="yes"),
        _yes_no("is_key", meaning="key characteristic; empty: no", example="no"),
        _whole("sample_n", meaning="pieces in a sample; empty: 0", example="5", unit="pieces"),
        _whole("interval_min", meaning="time from sample to sample", example="30", unit="minutes"),
        _whole("acceptance_n", meaning="pieces of the lot acceptance sample; empty: 0", example="13", unit="pieces"),
        _whole("rejects_allowed", meaning="rejects allowed in the acceptance sample; empty: 0",
               example="0", unit="pieces"),
        _figure("least_each", meaning="least result of each test piece", example="45000", unit="its unit"),
        _figure("least_average", meaning="least average of the test pieces", example="65000", unit="its unit"),
        _figure("stopped_at", meaning="result at which a test is stopped unbroken", example="130000", unit="its unit"),
        _force,
    ),
)  # fmt: skip

PLANS: Final = ListTable(
    "plans", entries.Plan, "How each operation of a part revision is worked.",
    ("part", "revision", "operation", "in_force_from"),
    (
        _text("part", meaning="part", example="B-3124", needed=True),
        _text("revision", meaning="revision of the part", example="C", needed=True),
        _text("operation", meaning="operation", example="80", needed=True),
        _text("version", meaning="version of the plan; each reading names it", example="C1", needed=True),
        _force,
        _text("approved_by", meaning="person who approved it", example="P-106"),
        _text("second", meaning="second person who approved it", example="P-108"),
        _text("after_operation", meaning="operation that must be signed off before", example="40"),
        _yes_no("needs_first_piece", meaning="a set-up needs first-piece approval; empty: no", example="yes"),
        _yes_no("needs_fatigue_proof", meaning="a set-up needs a fatigue proof; empty: no", example="yes"),
        _yes_no("is_final", meaning="final inspection; empty: no", example="no"),
        _whole("die_life", meaning="planned life of the dies", example="50000", unit="pieces"),
    ),
)  # fmt: skip

LOTS: Final = ListTable(
    "lots", entries.Lot, "Every lot: one part, one revision, one heat, one load family.", ("number",),
    (
        _text("number", meaning="lot number", example="L-411", needed=True),
        _text("part", meaning="part", example="B-3124", needed=True),
        _text("revision", meaning="revision of the part", example="C", needed=True),
        _text("heat", meaning="heat number of the material", example="H-7703"),
        _whole("quantity", meaning="pieces started", example="2000", unit="pieces", needed=True),
        Column("opened_at", Form.TIME, "when the lot was opened", "2026-03-02 07:00"),
        _text("customer", meaning="customer", example="CU-1"),
        _text("order", meaning="customer's order", example="O-9004"),
        _date("ships_on", meaning="date it is to ship", example="2026-04-10"),
        _whole("retention_years", meaning="how long its records are kept; empty: 10", example="40", unit="years"),
        _yes_no("is_training", meaning="a training lot; empty: no", example="no"),
        _text("split_from", meaning="lot it was split from", example="L-380"),
    ),
)  # fmt: skip

STATIONS: Final = ListTable(
    "stations", entries.Station, "Every station.", ("number", "in_force_from"),
    (
        _text("number", meaning="number of the station", example="S12", needed=True),
        _text("name", meaning="plain name", example="centreless grinding 1", needed=True),
        _several("operations", meaning="operations it may do", example="60;65", needed=True),
        _force,
    ),
)  # fmt: skip

SHIFTS: Final = ListTable(
    "shifts", entries.Shift, "Who is on which shift.", ("day", "shift", "person"),
    (
        _date("day", meaning="production day", example="2026-03-10", needed=True),
        _whole("shift", meaning="number of the shift", example="3", words=("1", "2", "3"), needed=True),
        _text("person", meaning="person on it", example="P-101", needed=True),
    ),
)  # fmt: skip

PLANT_NUMBERS: Final = ListTable(
    "plant-numbers", entries.PlantNumber, "N1 to N19 as the plant set them; one not set has its default.",
    ("number", "in_force_from"),
    (
        _word("number", meaning="which of the numbers", words=tuple(FIELD_OF), example="N2", needed=True),
        _text("value", meaning="its value", example="120", unit="the number's own", needed=True),
        _force,
        _text("by", meaning="person who set it", example="P-106"),
        _text("second", meaning="second person", example="P-108"),
        _text("reason", meaning="why it was set", example="clocks agree better"),
    ),
)  # fmt: skip

TABLES: Final = (
    *(GAUGES, CALIBRATIONS, MASTERS, PEOPLE, QUALIFICATIONS, PARTS, CHARACTERISTICS),
    *(PLANS, LOTS, STATIONS, SHIFTS, PLANT_NUMBERS),
)
"""Every list, in the order the reference page prints them."""
TABLE_NAMED: Final = {table.name: table for table in TABLES}
