"""The column lists of a closed day, in their fixed order; every cell is text as a CSV cell shows it, `''` when empty.

Owns names and order only. A column list is part of the ledger's format: add at a new format version, never move.
"""

from typing import Final

READING_COLUMNS: Final = (
    "plant",
    "production_day",
    "effective_time",
    "kiosk_time",
    "station",
    "kiosk",
    "page",
    "lot",
    "part",
    "revision",
    "heat",
    "operation",
    "set_up",
    "sample",
    "sample_kind",
    "piece",
    "position",
    "characteristic",
    "characteristic_name",
    "unit",
    "lower_limit",
    "upper_limit",
    "shop_limit",
    "keyed",
    "value",
    "computed_from",
    "gauge",
    "gauge_kind",
    "master",
    "calibrated_before",
    "due",
    "calibrated_after",
    "part_temperature",
    "person",
    "countersign",
    "source",
    "verdict_at_kiosk",
    "verdict",
    "standing",
    "exceptions",
    "settled_by",
    "remark",
    "fingerprint",
)
"""One reading. `page` is the number within `kiosk` (the series); `exceptions` is `X01;X23`, leading cause first,
a tag written `X26 tag`; `keyed` shows every keying, oldest first, joined with ` → `."""

ACT_COLUMNS: Final = (
    "plant",
    "production_day",
    "effective_time",
    "kiosk_time",
    "station",
    "kiosk",
    "page",
    "section",
    "kind",
    "lot",
    "part",
    "operation",
    "set_up",
    "characteristic",
    "gauge",
    "person",
    "content",
    "exceptions",
    "fingerprint",
)
"""Any other page. `section` is the ledger section it stands in (`SECTIONS`); `content` the act's canonical JSON."""

SECTIONS: Final = (
    "checks",
    "set-ups",
    "calibrations",
    "exceptions",
    "dispositions",
    "lots",
    "lists",
    "seals",
    "station",
    "re-keyed",
)
"""Sections of the acts; `re-keyed` holds readings that a later page of the same sample took the place of."""

EXCEPTION_COLUMNS: Final = (
    "key",
    "number",
    "name",
    "urgency",
    "effect",
    "family",
    "cause",
    "lots",
    "stations",
    "readings",
    "pieces",
    "sentence",
    "who",
    "closes",
    "opened_at",
    "age_h",
    "state",
    "closed_by",
    "closed_why",
)
"""One row for each cause and kind. `key` stays the same at every rebuild and while it is carried from day to day.
`family` is kiosk, gauge, master, set-up, lot or person; `lots` and `stations` are joined with `;`;
`state` is open or closed; `closed_by` is a page (`desk-a/12`) or empty when it closed by its normal course."""

TOUCHED_COLUMNS: Final = ("key", "page", "is_leading")
"""Which pages an exception touches; `page` is series and number (`S12-a/1877`), `is_leading` yes or empty."""

HOLD_COLUMNS: Final = ("lot", "key", "number", "name", "urgency", "since", "pages", "state", "lifted_at", "lifted_by")
"""One row for each lot and exception that holds it; a hold set by hand has number `hold` and its page as key.
`pages` are the readings because of which it is held, joined with `;`; `state` is held or lifted."""

KIOSK_COLUMNS: Final = (
    "kiosk",
    "station",
    "state",
    "last_contact",
    "first_page",
    "last_page",
    "pages",
    "missing",
)
"""One row for each enrolled kiosk: `state` is in, silent or withdrawn; pages are those of the production day;
`missing` lists the page numbers not held, joined with `;`."""

LOT_COLUMNS: Final = (
    "lot",
    "part",
    "revision",
    "heat",
    "state",
    "ships_on",
    "pages",
    "readings",
    "counting",
    "flagged",
    "blocked",
    "released",
    "set_up_pieces",
    "bad",
    "is_held",
)
"""One row for each lot with pages that day; `bad` counts readings out of tolerance or rejected, whatever they stand."""

LINE_COLUMNS: Final = (
    "urgency",
    "family",
    "cause",
    "number",
    "name",
    "kinds",
    "sentence",
    "lots",
    "stations",
    "readings",
    "pieces",
    "ships",
    "opened_at",
    "age_h",
    "who",
    "keys",
)
"""The morning list, sorted: one row for each cause. `number`, `name`, `who` and the start of `sentence` belong to
its most urgent kind; `kinds` and `keys` name all of them, a short sample with what blocked its readings.
`ships` is shipped, today, later or empty."""

LATE_COLUMNS: Final = ("page", "supplement")
"""Pages that arrived after the day was sealed, and the number of the supplement they belong to (1, 2, …)."""

TOTAL_PARTS: Final = (
    "counting",
    "flagged",
    "blocked",
    "released",
    "set_up_pieces",
    "checks",
    "corrections",
    "re_keyed",
    "other_acts",
)
"""The parts that add up to the page count of the day."""
