"""What each column of the ledger means, in one sentence; it travels with every export as columns.csv.

Owns words only. A test holds it together with the columns that close of day writes.
"""

from collections.abc import Mapping
from typing import Final

from consolidator.ledger.books import COLUMNS

_MEANINGS: Final[Mapping[str, str]] = {
    "plant": "Number of the plant.",
    "production_day": "Date on which the production day starts; it runs 06:00 to 06:00 plant local time.",
    "effective_time": "Kiosk's time, put right where its clock is known to be wrong; local time with UTC offset.",
    "kiosk_time": "What the kiosk's own clock showed; local time with UTC offset (ISO 8601).",
    "station": "Station at which the page was written.",
    "kiosk": "Series of the numbered book, e.g. S12-a; a replacement kiosk has a new one.",
    "page": "Number of the page within its series; numbers run without a gap.",
    "lot": "Lot number; empty when the page belongs to no single lot.",
    "part": "Part number.",
    "revision": "Drawing revision judged by.",
    "heat": "Heat number of the lot.",
    "operation": "Operation of the traveller.",
    "set_up": "Set-up number.",
    "sample": "Number of the sample.",
    "sample_kind": "Why the piece was measured.",
    "piece": "Number of the piece in its sample.",
    "position": "Where on the piece, when the plan asks for it.",
    "characteristic": "Number of the characteristic on the drawing.",
    "characteristic_name": "Plain name of the characteristic.",
    "unit": "Unit of value and limits.",
    "lower_limit": "Lower limit as the drawing writes it; a value equal to it is in tolerance.",
    "upper_limit": "Upper limit as the drawing writes it; a value equal to it is in tolerance.",
    "shop_limit": "The shop's own, tighter limit.",
    "keyed": "Exactly what was keyed, every keying, oldest first, joined with →.",
    "value": "The exact decimal made from what was keyed; nothing is rounded before it is compared.",
    "computed_from": "For a computed value, the formula with its figures.",
    "gauge": "Gauge number.",
    "gauge_kind": "Kind of gauge.",
    "master": "Setting master, wire set or setting plug used with the gauge.",
    "calibrated_before": "Last calibration before the reading.",
    "due": "Date to the end of which the gauge was in date.",
    "calibrated_after": "First calibration after the reading with its as-found result, or 'not yet'.",
    "part_temperature": "Temperature of the part, where it was keyed.",
    "person": "Number of the person whose badge was used.",
    "countersign": "Number of the trainer who signed inside the sample.",
    "source": "How the figure came in: keyed, from instrument, from paper.",
    "verdict_at_kiosk": "Verdict at the kiosk, by the lists it had.",
    "verdict": "Verdict at close of day: what the number says about the piece. Never mixed with the standing.",
    "standing": "What the reading is worth as evidence: Counts, Counts – flagged, Blocked, Released.",
    "exceptions": "Numbers of the exceptions that touch the page, leading cause first, joined with ;.",
    "settled_by": "Page that released or corrected the reading.",
    "remark": "Free words.",
    "fingerprint": "SHA-256 of the page's bytes; of a lot, its combined fingerprint.",
    "section": "Section of the day's book that the act stands in.",
    "kind": "What was done.",
    "content": "The whole act as canonical JSON (RFC 8785).",
    "key": "Name of the exception; it stays the same from day to day.",
    "number": "Number of the exception kind, X01 to X84; 'hold' for a hold set by hand.",
    "name": "Plain name of the exception kind.",
    "urgency": "A stop and segregate, B before the lot moves, C today, D for the record.",
    "effect": "What the kind does to the standing of a reading.",
    "family": "What the cause is: kiosk, gauge, master, set-up, lot or person.",
    "cause": "Number of the kiosk, gauge, master, set-up or lot that is the cause.",
    "lots": "Lots touched, joined with ;.",
    "stations": "Stations touched, joined with ;.",
    "readings": "Number of readings.",
    "pieces": "Number of pieces.",
    "sentence": "The rule in one sentence, with the two figures compared.",
    "who": "Who acts on it.",
    "closes": "What closes it.",
    "opened_at": "When it was first found; local time with UTC offset.",
    "age_h": "Hours since then, at the moment of closing the day.",
    "state": "Of an exception or hold: open or closed. Of a kiosk: in, silent or withdrawn. Of a lot: where it stands.",
    "closed_by": "Page that closed it; empty when it closed by its normal course.",
    "closed_why": "Why it was closed.",
    "is_leading": "yes when this exception is the page's leading cause.",
    "since": "Since when the lot is held; local time with UTC offset.",
    "lifted_at": "When the hold was lifted; empty while the lot is held.",
    "lifted_by": "Page that lifted the hold.",
    "last_contact": "Last contact with the kiosk before the moment of closing; local time with UTC offset.",
    "first_page": "First page of the day.",
    "last_page": "Last page of the day.",
    "pages": "Number of pages of the day.",
    "missing": "Page numbers not held, joined with ;.",
    "ships_on": "Date on which the lot is due to ship.",
    "counting": "Readings that count.",
    "flagged": "Readings that count and are flagged.",
    "blocked": "Readings that are blocked; they do not count, and stay in the book.",
    "released": "Readings that were blocked and later released by two signatures.",
    "set_up_pieces": "Readings on set-up pieces.",
    "bad": "Readings out of tolerance or rejected, whatever their standing.",
    "is_held": "yes when the lot is on hold.",
    "kinds": "Numbers of all exception kinds of the cause, joined with ;.",
    "ships": "Where the lots are bound: shipped, today, later or empty.",
    "keys": "Names of all exceptions of the cause, joined with ;.",
}

DICTIONARY_COLUMNS: Final = ("table", "position", "column", "meaning")


def dictionary_rows() -> list[tuple[str, str, str, str]]:
    """Return one row for each column of each table: table, position from 1, column, meaning."""
    return [
        (table, str(at), name, _MEANINGS[name]) for table, names in COLUMNS.items() for at, name in enumerate(names, 1)
    ]
