"""The front sheet of a book: five sentences with a number, in their fixed order, and totals that add up.

Pure: tables in, plain values out. Says only what the tables say, and says first what is missing.
Must not know how the sheet is printed.
"""

from collections.abc import Collection, Mapping
from datetime import date, datetime
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc

from consolidator.close.columns import TOTAL_PARTS
from kiosk.lists import Lists
from kiosk.lists.words import GaugeState
from kiosk.times import read_time

CAUTION: Final = "No exceptions is not all good if pages are missing or a kiosk is silent."
DECISION_RULE: Final = (
    "Decision rule: simple acceptance. A value equal to a limit is in tolerance, nothing is rounded before it is "
    "compared, and a guard band applies only where the plan has one."
)
NOT_PROVED: Final = (
    "This ledger can prove that nothing was added, removed or changed since it was keyed, which gauge number was "
    "scanned and whose badge was used; it cannot prove that the piece was really measured."
)
PART_WORDS: Final[Mapping[str, str]] = {
    "counting": "counting",
    "flagged": "flagged",
    "blocked": "blocked",
    "released": "released",
    "set_up_pieces": "set-up pieces",
    "checks": "checks",
    "corrections": "corrections",
    "re_keyed": "re-keyed",
    "other_acts": "other pages",
}


def make_sheet(
    tables: Mapping[str, pa.Table], totals: Mapping[str, int], lists: Lists, at: datetime, *, judged: Collection[str]
) -> dict[str, Any]:
    """Return the front sheet of a day as it stood at the moment of closing `at` (plant local time).

    `judged` names the exception kinds that close of day looks for: where one is not looked for, the sheet says so
    instead of saying 0.
    """
    return {
        "lines": [
            _everything_in(tables["kiosks"].to_pylist(), at),
            _stop_and_segregate(tables["lines"].to_pylist()),
            _before_the_lot_moves(tables["holds"].to_pylist(), lists, at.date()),
            _gauges(tables["exceptions"].to_pylist(), lists, at, judged),
            _set_ups(tables["exceptions"].to_pylist(), tables["acts"], judged),
        ],
        "kiosks": tables["kiosks"].to_pylist(),
        **_foot(totals),
    }


def make_supplement_sheet(
    tables: Mapping[str, pa.Table], totals: Mapping[str, int], lists: Lists, at: datetime
) -> dict[str, Any]:
    """Return the front sheet of a supplement: which pages came late, and what they brought."""
    return {
        "lines": [
            _late_pages(tables["kiosks"].to_pylist(), totals),
            _stop_and_segregate(tables["lines"].to_pylist()),
            _before_the_lot_moves(tables["holds"].to_pylist(), lists, at.date()),
        ],
        "kiosks": tables["kiosks"].to_pylist(),
        **_foot(totals),
    }


def sum_sentence(totals: Mapping[str, int]) -> str:
    """Return the totals as a sum that can be checked by hand.

    Raises:
        ValueError: the parts do not add up to the page count; that is a bug of close of day.
    """
    parts = {name: totals.get(name, 0) for name in TOTAL_PARTS}
    if sum(parts.values()) != totals["pages"]:
        raise ValueError(f"the parts {parts} do not add up to {totals['pages']} pages")
    shown = " + ".join(f"{count(value)} {PART_WORDS[name]}" for name, value in parts.items() if value)
    return f"{many(totals['pages'], 'page')} = {shown or '0'}"


def _left_out(training: int) -> str:
    if not training:
        return ""
    are = "is" if training == 1 else "are"
    return f"; {many(training, 'page')} on training lots {are} kept and {are} not in this ledger"


def count(number: int) -> str:
    """Return a whole number with a narrow gap every three digits, as on paper: 6 612."""
    return f"{number:,}".replace(",", " ")


def _line(title: str, is_good: bool, sentence: str, details: list[str] | None = None) -> dict[str, Any]:
    return {"title": title, "is_good": is_good, "sentence": sentence, "details": details or []}


def _foot(totals: Mapping[str, int]) -> dict[str, Any]:
    return {
        "totals": dict(totals),
        "sum": sum_sentence(totals) + _left_out(totals.get("on_training_lots", 0)),
        "caution": CAUTION,
        "decision_rule": DECISION_RULE,
        "not_proved": NOT_PROVED,
    }


def _everything_in(kiosks: list[dict[str, str]], at: datetime) -> dict[str, Any]:
    used = [row for row in kiosks if row["state"] != "withdrawn"]
    silent = [row for row in used if row["state"] == "silent"]
    missing = {row["kiosk"]: row["missing"].split(";") for row in kiosks if row["missing"]}
    words = [f"{len(used) - len(silent)} of {many(len(used), 'kiosk')} in."]
    words += [f"{row['station']} ({row['kiosk']}) silent since {_since(row['last_contact'], at)}." for row in silent]
    for kiosk, pages in missing.items():
        named = ", ".join(pages[:5]) + (" …" if len(pages) > 5 else "")
        words.append(f"{many(len(pages), 'page')} missing from {kiosk}: {named}.")
    if not missing:
        words.append("No pages missing elsewhere." if silent else "No pages missing.")
    return _line("Is everything in?", not silent and not missing and bool(used), " ".join(words))


def _since(last_contact: str, at: datetime) -> str:
    if not last_contact:
        return "its enrolment"
    moment = read_time(last_contact)
    day = "" if (at - moment).total_seconds() < 24 * 3600 else f"{moment.date()} "
    return f"{day}{moment:%H:%M} {offset_words(moment)}"


def offset_words(moment: datetime) -> str:
    """Return the UTC offset as it is printed beside a local time, with a true minus sign: −04:00."""
    return moment.isoformat()[-6:].replace("-", "−")


def _stop_and_segregate(lines: list[dict[str, str]]) -> dict[str, Any]:
    urgent = [row for row in lines if row["urgency"] == "A"]
    details = [f"{row['number']} {row['sentence']} {_where(row)}" for row in urgent]
    return _line("Stop and segregate (A)", not urgent, f"{len(urgent)}.", details)


def _where(row: Mapping[str, str]) -> str:
    lots = row["lots"].replace(";", ", ") or "no lot named"
    stations = row["stations"].replace(";", ", ")
    moved = {"shipped": "shipped", "today": "not shipped, ships today"}.get(row["ships"], "not shipped")
    return f"[{lots}{f', at {stations}' if stations else ''}; {moved}]"


def _before_the_lot_moves(holds: list[dict[str, str]], lists: Lists, today: date) -> dict[str, Any]:
    held = sorted({row["lot"] for row in holds if not row["lifted_at"]})
    known = [lot for number in held if (lot := lists.lot(number)) is not None]
    ships = sorted(lot.number for lot in known if lot.ships_on == today)
    sentence = f"{many(len(held), 'lot')} on hold, of which {len(ships)} due to ship today."
    details = [f"Due to ship today: {', '.join(ships)}"] if ships else []
    return _line(
        "Before the lot moves (B)", not held, sentence, details + ([f"On hold: {', '.join(held)}"] if held else [])
    )


def _gauges(exceptions: list[dict[str, str]], lists: Lists, at: datetime, judged: Collection[str]) -> dict[str, Any]:
    found = [lists.gauge(number, at) for number in sorted({gauge.number for gauge in lists.gauges})]
    used = [
        gauge for gauge in found if gauge is not None and gauge.state is GaugeState.IN_USE and gauge.due is not None
    ]
    today = sorted(gauge.number for gauge in used if gauge.due == at.date())
    past = sorted(gauge.number for gauge in used if gauge.due is not None and gauge.due < at.date())
    in_shift = _open(exceptions, "X02")
    out = _open(exceptions, "X07")
    # X07 is one exception for each lot of a gauge found out: `G-108, lot L-388`.
    gauges_out = {row["cause"].partition(", lot ")[0] for row in out}
    lots = sorted({lot for row in out for lot in row["lots"].split(";") if lot})
    words = f"{len(today)} due today, {len(past)} past due, {len(in_shift)} came due during a shift"
    if "X07" in judged:
        words += f", {len(gauges_out)} found out – look-back {many(len(lots), 'lot')}." if out else ", 0 found out."
    else:
        words += "; found out at calibration: not judged by this version, look at the calibrations."
    details = [f"Due today: {', '.join(today)}"] if today else []
    return _line(
        "Gauges",
        "X07" in judged and not past and not out,
        words,
        details + ([f"Past due: {', '.join(past)}"] if past else []),
    )


def _open(exceptions: list[dict[str, str]], number: str) -> list[dict[str, str]]:
    return [row for row in exceptions if row["number"] == number and row["state"] == "open"]


def _set_ups(exceptions: list[dict[str, str]], acts: pa.Table, judged: Collection[str]) -> dict[str, Any]:
    begun = _set_ups_with(acts, "set-up start")
    approved = {name for name, text in _contents(acts, "first-piece approval") if '"result":"Approved"' in text}
    waiting = sorted(begun - approved)
    unproven = _open(exceptions, "X55")
    pieces = sum(int(row["pieces"]) for row in unproven if row["pieces"])
    sentence = f"{many(len(waiting), 'first piece')} waiting, "
    if "X55" in judged:
        sentence += f"{many(len(unproven), 'rolling set-up')} not yet proven, {count(pieces)} pieces rolled since."
    else:
        sentence += "proofs of rolling set-ups not judged by this version: look at the test records."
    details = [f"First piece not approved that day: {', '.join(waiting)}"] if waiting else []
    return _line("Set-ups waiting", "X55" in judged and not waiting and not unproven, sentence, details)


def _set_ups_with(acts: pa.Table, kind: str) -> set[str]:
    return {name for name, _ in _contents(acts, kind)}


def _contents(acts: pa.Table, kind: str) -> list[tuple[str, str]]:
    rows = acts.filter(pc.equal(acts["kind"], kind)).select(["set_up", "content"]).to_pylist()
    return [(row["set_up"], row["content"]) for row in rows]


def _late_pages(kiosks: list[dict[str, str]], totals: Mapping[str, int]) -> dict[str, Any]:
    names = ", ".join(row["kiosk"] for row in kiosks)
    sentence = f"{many(totals['pages'], 'page')} arrived after the day was sealed, from {names}."
    return _line("Late pages", False, sentence)


def many(number: int, word: str) -> str:
    """Return a count with its word, `1 page` or `6 612 pages`."""
    return f"{count(number)} {word}" + ("" if number == 1 else "s")
