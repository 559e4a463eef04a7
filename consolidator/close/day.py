"""Close of day: one production day judged whole, with everything known now about what was true then.

Pure: pages held, lists in force and the moment of closing in, tables out. The order of arrival does not matter.
"""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pyarrow as pa

from consolidator.close.closed import Closed, ClosedDay, text_table
from consolidator.close.columns import (
    EXCEPTION_COLUMNS,
    HOLD_COLUMNS,
    KIOSK_COLUMNS,
    LATE_COLUMNS,
    LINE_COLUMNS,
    LOT_COLUMNS,
)
from consolidator.close.counts import kiosk_rows, lot_rows, totals_of
from consolidator.close.exceptions import Cells, Kept, keep_exceptions, open_span
from consolidator.close.grouping import Raised, leading, raise_exceptions
from consolidator.close.holds import HELD, keep_holds
from consolidator.close.judging import Judging, judge_day
from consolidator.close.lines import morning_lines
from consolidator.close.marks import exception_cells, numbers_of_pages, touched_table
from consolidator.close.tables import act_table, acts_of_day, ledger_order, reading_table, replaced_rows
from consolidator.frame import Day, make_day
from consolidator.frame.coded import Ints
from consolidator.frame.day import late_numbers
from consolidator.intake.held import Held
from consolidator.rules import LAST_RULES, Rule
from kiosk.lists import Lists

_HOUR_MS = 3_600_000


def close_day(
    held: Held,
    lists: Lists,
    *,
    day: date,
    at_utc: datetime,
    before: Closed | None = None,
    more_rules: tuple[Rule, ...] = (),
) -> ClosedDay:
    """Return production day `day` judged with the pages `held` and `lists` at the moment `at_utc`.

    `before` is the ledger of the day before with its supplements (`CarriedOver.of`): open exceptions and holds go on.
    `more_rules` run beside the usual ones: those that need pages of other days, such as look-backs.
    The same inputs give the same tables, in whatever order pages came, as often as wanted, on any machine.
    """
    at_utc = at_utc.astimezone(UTC)
    carried = _lots_on_hold(before)
    judging = judge_day(make_day(held, lists, day=day, at_utc=at_utc, carried_holds=carried), more_rules)
    night = judging.day
    rows = ledger_order(night)
    rank = np.full(len(night.pages), len(night.pages), np.int64)
    rank[rows] = np.arange(len(rows))
    judging, raised, kept = _kept(judging, rank, before)
    lead = leading(raised, len(night.pages))
    holds = keep_holds(night, kept, before)
    acts = acts_of_day(night)
    act_cells = act_table(night, acts, numbers_of_pages(raised))
    return ClosedDay(
        plant=lists.plant,
        day=day,
        hours=(night.world.end_ms - night.world.start_ms) // _HOUR_MS,
        at_utc=at_utc,
        lists_version=lists.version,
        readings=reading_table(judging, rows, exception_cells(raised, lead, len(night.pages))),
        acts=act_cells,
        exceptions=text_table((one.cells for one in kept), EXCEPTION_COLUMNS),
        touched=touched_table(night, kept, lead, raised),
        holds=text_table(holds, HOLD_COLUMNS),
        kiosks=text_table(kiosk_rows(night, rows, acts), KIOSK_COLUMNS),
        lots=text_table(lot_rows(judging, rows, act_cells.to_pylist(), kept, holds), LOT_COLUMNS),
        lines=text_table(morning_lines(judging, kept, lead), LINE_COLUMNS),
        late=_late_table(night, rows),
        totals=totals_of(judging, rows, acts),
    )


def _kept(judging: Judging, rank: Ints, before: Closed | None) -> tuple[Judging, list[Raised], list[Kept]]:
    """Return what was raised and is kept, with what follows from exceptions that stood open."""
    night = judging.day
    raised = raise_exceptions(judging, rank)
    kept = keep_exceptions(night, raised, before)
    spans = [open_span(night, one.cells) for one in kept]
    stories = [story for rule in LAST_RULES for story in rule.find(night, spans)]
    if not stories:
        return judging, raised, kept
    judging = replace(judging, stories=[*judging.stories, *stories])
    raised = raise_exceptions(judging, rank)
    return judging, raised, keep_exceptions(night, raised, before)


def _lots_on_hold(before: Closed | None) -> frozenset[str]:
    rows: list[Cells] = [] if before is None else before.holds.to_pylist()
    return frozenset(row["lot"] for row in rows if row["state"] == HELD)


def _late_table(night: Day, rows: Ints) -> pa.Table:
    """Return the pages that came after the day was sealed, with the supplement each belongs to."""
    every = np.sort(np.concatenate((rows, replaced_rows(night))))
    late = [(night.pages.ref(row), int(night.late[row])) for row in every[night.late[every] > 0].tolist()]
    acts = acts_of_day(night)
    books = late_numbers(np.array([act.received_ms for act in acts], np.int64), night.world)
    late += [(act.ref, number) for act, number in zip(acts, books.tolist(), strict=True) if number]
    return text_table(({"page": page, "supplement": str(number)} for page, number in sorted(late)), LATE_COLUMNS)
