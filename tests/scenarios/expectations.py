"""What a scenario expects, held against the ledgers on disk and what the kiosks said.

Each kind of expectation is one function that gives the sentences of what is not so.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import Any, Final

from consolidator.close.columns import TOTAL_PARTS
from consolidator.ledger.folder import supplements_of
from consolidator.lists import current
from consolidator.qc_room.dispositions import pieces_left
from demo_site.play.played import Played, Row
from demo_site.play.scenario import LINE, Check, ScenarioRefused
from kiosk.pages.desk import Disposition
from kiosk.times import read_time
from tests.scenarios.looking_back import finding_misses, look_back_misses, lot_misses

SHORT: Final = {"In": "In tolerance", "Out": "Out of tolerance", "Flagged": "Counts – flagged"}
COUNTING: Final = ("Counts", "Counts – flagged")
COLUMNS: Final = {
    "verdict": "verdict",
    "verdict at kiosk": "verdict_at_kiosk",
    "standing": "standing",
    "value": "value",
    "keyed": "keyed",
    "production day": "production_day",
    "effective time": "effective_time",
    "kiosk time": "kiosk_time",
    "countersign": "countersign",
}
STARTS: Final = ("effective time", "kiosk time")


def misses(played: Played, checks: tuple[Check, ...]) -> list[str]:
    """Return a sentence for each expectation that does not hold, with its place in the file.

    Raises:
        ScenarioRefused: an expectation is of no kind known, or names a figure its kind does not have.
    """
    return [f"{check.where}: {miss}" for check in checks for miss in _kind(check)(played, check)]


def _kind(check: Check) -> Callable[[Played, Check], Iterator[str]]:
    if check.what not in KINDS:
        raise ScenarioRefused(
            f"Expectation not understood ({check.where}).",
            why=f"'{check.what}' is no kind of expectation.",
            next_step=f"Use one of: {', '.join(sorted(KINDS))}.",
        )
    function, figures = KINDS[check.what]
    for figure in check.told:
        if figure not in figures:
            raise ScenarioRefused(
                f"Expectation not understood ({check.where}).",
                why=f"'{check.what}' has no figure '{figure}'.",
                next_step=f"Use one of: {', '.join(sorted(figures))}.",
            )
    return function


def _readings(played: Played, check: Check) -> Iterator[str]:
    rows = played.readings()
    pages = [page for name in _list(check.of) for page in played.pages(name)]
    gone = [page for page in pages if page not in rows]
    if gone:
        yield f"no reading row for {', '.join(gone)}"
    found = [(page, rows[page]) for page in pages if page in rows]
    if "count" in check.told and str(len(found)) != check.told["count"]:
        yield f"{len(found)} readings, expected {check.told['count']}"
    if not found:
        yield "no readings to look at"
    for figure, expected in check.told.items():
        if figure == "in this order":
            yield from _in_order(found)
        elif figure != "count":
            for (page, row), wanted in zip(found, _each(expected, len(found), figure), strict=False):
                yield from _one_reading(played, page, row, figure, wanted)


def _one_reading(played: Played, page: str, row: Row, figure: str, wanted: Any) -> Iterator[str]:
    named = {part for part in row["exceptions"].split(";") if part}
    kinds = {part for part in named if not part.endswith(" tag")}
    tags = {part.removesuffix(" tag") for part in named if part.endswith(" tag")}
    asked = set(_list(wanted))
    if figure in COLUMNS:
        shown, word = row[COLUMNS[figure]], SHORT.get(str(wanted), str(wanted))
        holds = shown.startswith(word) if figure in STARTS else (word in shown.split(" ") or shown == word)
        if figure == "keyed":
            holds = [text.strip() for text in shown.split("→")] == [text.strip() for text in word.split(";")]
        if not holds:
            yield f"{page}: {figure} is '{shown}', expected '{word}'"
    elif figure == "counts":
        if (row["standing"] in COUNTING) != (wanted == "yes"):
            yield f"{page}: standing is {row['standing']} ({row['exceptions']})"
    elif figure == "value starts":
        if not row["value"].startswith(wanted):
            yield f"{page}: value is {row['value']}, expected to start {wanted}"
    elif figure == "says":
        sentences = " ".join(exception["sentence"] for exception in played.touching(page))
        gone = [word for word in _list(wanted) if word not in sentences]
        yield from (f"{page}: no sentence with '{word}' in: {sentences}" for word in gone)
    else:
        wrong = {
            "has": asked - kinds,
            "has not": asked & kinds,
            "only": asked ^ kinds,
            "tags": asked - tags,
        }[figure]
        if wrong:
            yield f"{page}: {figure} {sorted(asked)} is not so: it has {row['exceptions'] or 'none'}"


def _in_order(found: list[tuple[str, Row]]) -> Iterator[str]:
    times = [read_time(row["effective_time"]) for _, row in found]
    if times != sorted(times):
        yield f"they are not in this order: {[str(time) for time in times]}"


def _exception(played: Played, check: Check) -> Iterator[str]:
    day = date.fromisoformat(check.told["day"]) if "day" in check.told else None
    rows = [row for row in played.exceptions(day) if row["number"] == check.of]
    told = check.told
    if "lines" in told and len(rows) != int(told["lines"]):
        yield f"{len(rows)} lines of {check.of}, expected {told['lines']}: {[row['sentence'] for row in rows]}"
    if told.get("lines") == "0":
        return
    if not rows:
        yield f"no {check.of}"
    fits = [row for row in rows if not list(_one_exception(row, told))]
    if rows and not fits:
        yield "; ".join(miss for row in rows for miss in _one_exception(row, told))


def _one_exception(row: Row, told: Mapping[str, Any]) -> Iterator[str]:
    for figure in ("readings", "urgency", "state"):
        if figure in told and row[figure] != told[figure]:
            yield f"{row['number']}: {figure} is {row[figure]}, expected {told[figure]}"
    for figure in ("lots", "stations"):
        if figure in told and set(_list(told[figure])) != set(row[figure].split(";")):
            yield f"{row['number']}: {figure} are {row[figure]}, expected {told[figure]}"
    sentence = f"{row['sentence']} {row['closed_why']} {row['closed_by']}"
    for word in _list(told.get("says", [])):
        if word not in sentence:
            yield f"{row['number']}: says '{sentence}', without '{word}'"


def _hold(played: Played, check: Check) -> Iterator[str]:
    held = [row for row in played.holds() if row["lot"] == check.of and row["state"] == "held"]
    if not held:
        yield f"{check.of} is not on hold"
    for number in _list(check.told.get("because", [])):
        if number not in {row["number"] for row in held}:
            yield f"{check.of} is not held because of {number}, only of {sorted({row['number'] for row in held})}"


def _no_hold(played: Played, check: Check) -> Iterator[str]:
    day = date.fromisoformat(check.told["day"]) if "day" in check.told else None
    held = [row for row in played.holds(day) if row["lot"] == check.of and row["state"] == "held"]
    if held:
        yield f"{check.of} is on hold because of {sorted({row['number'] for row in held})}"


def _sample(played: Played, check: Check) -> Iterator[str]:
    rows = played.readings()
    pages = [page for page in played.pages(check.of) if page in rows]
    got = len({rows[page]["piece"] for page in pages if rows[page]["standing"] in (*COUNTING, "Released")})
    if "got" in check.told and str(got) != check.told["got"]:
        yield f"sample has {got} counting pieces, expected {check.told['got']}"
    one = rows[pages[0]]
    short = {
        row["number"]: row
        for row in played.exceptions()
        if f"sample {one['sample']}" in row["sentence"]
        and one["lot"] in row["lots"].split(";")
        and one["characteristic"] in row["sentence"]
    }
    for number in _list(check.told.get("has", [])):
        if number not in short:
            yield f"sample {one['sample']} has no {number}: {[row['sentence'] for row in played.exceptions()]}"
        elif "planned" in check.told and check.told["planned"] not in short[number]["sentence"]:
            yield f"'{short[number]['sentence']}' does not tell {check.told['planned']} planned"
    yield from (f"sample has {n}" for n in _list(check.told.get("has not", [])) if n in short)


def _pieces(played: Played, check: Check) -> Iterator[str]:
    rows = [row for row in played.readings().values() if row["lot"] == check.of and row["standing"] in COUNTING]
    if "characteristic" in check.told:
        rows = [row for row in rows if row["characteristic"] == check.told["characteristic"]]
    pieces = {(row["sample"], row["piece"]) for row in rows}
    if str(len(pieces)) != check.told["count"]:
        yield f"{len(pieces)} pieces with a counting reading, expected {check.told['count']}: {sorted(pieces)}"


def _totals(played: Played, check: Check) -> Iterator[str]:
    totals = played.book(date.fromisoformat(check.of)).body["totals"]
    for name, wanted in check.told.items():
        if str(totals.get(name.replace(" ", "_"))) != wanted:
            yield f"{name} is {totals.get(name)}, expected {wanted}: {totals}"


def _kiosk(played: Played, check: Check) -> Iterator[str]:
    day = date.fromisoformat(check.told["day"]) if "day" in check.told else played.days()[-1]
    states = {row["station"]: row["state"] for row in played.book(day).table("kiosks").to_pylist()}
    if states.get(check.of) != check.told["state"]:
        yield f"kiosk of {check.of} is {states.get(check.of)} on {day}, expected {check.told['state']}"


def _day(played: Played, check: Check) -> Iterator[str]:
    hours = played.book(date.fromisoformat(check.of)).body["hours"]
    if str(hours) != check.told["hours"]:
        yield f"{check.of} has {hours} hours, expected {check.told['hours']}"


def _text(played: Played, check: Check) -> Iterator[str]:
    text = _texts_of(played, check)
    for word in _list(check.told.get("contains", [])):
        if word not in text:
            yield f"{check.of} lacks '{word}': {text[:600]}"
    for word in _list(check.told.get("lacks", [])):
        if word in text:
            place = text.index(word)
            yield f"{check.of} has '{word}': …{text[max(0, place - 80) : place + 80]}…"


def _texts_of(played: Played, check: Check) -> str:
    event = check.told.get("event")
    if check.of == "kiosk":
        trace = played.trace(str(event))
        return "\n".join(trace.asked if check.told.get("asked") == "yes" else trace.asked + trace.said)
    if check.of == "carry log":
        return "\n".join(played.trace(str(event)).said) if event else played.carry_log()
    if check.of == "exceptions list":
        return "\n".join(cell for row in played.rows("lines") for cell in row.values())
    if check.of == "front sheet":
        return "\n".join(str(book.front_sheet) for book in played.books())
    return played.everything()


def _seal(played: Played, check: Check) -> Iterator[str]:
    day = date.fromisoformat(check.of)
    word = played.possible_word(day)
    if check.told.get("possible") == "no" and word == check.told["word"]:
        yield f"{day} could be sealed {word}"
    if check.told.get("possible", "yes") == "yes" and word != check.told["word"]:
        yield f"{day} can be sealed {word}, expected {check.told['word']}"


def _seal_of(played: Played, check: Check) -> Iterator[str]:
    book = played.book(date.fromisoformat(check.of))
    if not book.is_sealed:
        yield f"{check.of} is not sealed"
    if book.seal_file["ledger"] != played.trace(check.told["unchanged since"]).fingerprint:
        yield f"the ledger of {check.of} changed since it was sealed"


def _supplement(played: Played, check: Check) -> Iterator[str]:
    found = {book.supplement: book for book in supplements_of(played.plant.ledger, date.fromisoformat(check.of))}
    book = found.get(int(check.told["number"]))
    if book is None:
        yield f"{check.of} has no supplement {check.told['number']}, only {sorted(found)}"
        return
    readings, acts = book.table("readings"), book.table("acts")
    if "readings" in check.told and str(readings.num_rows) != check.told["readings"]:
        yield f"{readings.num_rows} readings in it, expected {check.told['readings']}"
    if "pages" in check.told and str(readings.num_rows + acts.num_rows) != check.told["pages"]:
        yield f"{readings.num_rows + acts.num_rows} pages in it, expected {check.told['pages']}"
    numbers = {row["number"] for row in book.table("exceptions").to_pylist()}
    yield from (f"no {n} in it, only {sorted(numbers)}" for n in _list(check.told.get("has", [])) if n not in numbers)


def _ledgers(played: Played, check: Check) -> Iterator[str]:
    now, then = played.fingerprints(), played.marks[check.of]
    changed = sorted(place for place in {*now, *then} if now.get(place) != then.get(place))
    if changed:
        yield f"changed since '{check.of}': {changed}"


def _receipt(played: Played, check: Check) -> Iterator[str]:
    if (check.of, check.told["station"]) not in played.receipts:
        yield f"no receipt for {check.told['station']} came back on stick {check.of}"


def _refused(played: Played, check: Check) -> Iterator[str]:
    words = "\n".join(played.trace(check.of).refused)
    if not words:
        yield f"'{check.of}' was not refused"
    yield from (f"refused with '{words}', without '{w}'" for w in _list(check.told.get("says", [])) if w not in words)


def _balance(played: Played, check: Check) -> Iterator[str]:
    told = [row["content"] for row in played.rows("acts") if row["kind"] == "disposition"]
    lot = current(played.plant).lot(check.of)
    left = lot and pieces_left(lot.quantity, map(Disposition.model_validate_json, told), check.of)
    if str(left) != check.told["left"]:
        yield f"{left} pieces are left in {check.of}, expected {check.told['left']}"


def _list(told: Any) -> list[str]:
    if isinstance(told, Mapping):
        raise TypeError(f"a text or a list of texts is expected, not {[key for key in told if key != LINE]}")
    return [told] if isinstance(told, str) else list(told)


def _each(expected: Any, count: int, figure: str) -> list[Any]:
    if figure in ("has", "has not", "only", "tags", "says") or isinstance(expected, str):
        return [expected] * count
    if len(expected) != count:
        raise AssertionError(f"{figure} gives {len(expected)} values for {count} readings")
    return list(expected)


KINDS: Final[Mapping[str, tuple[Callable[[Played, Check], Iterator[str]], frozenset[str]]]] = {
    "readings": (
        _readings,
        frozenset(
            {*COLUMNS, "count", "counts", "has", "has not", "only", "tags", "value starts", "says", "in this order"}
        ),
    ),
    "exception": (_exception, frozenset({"lines", "readings", "urgency", "lots", "stations", "state", "says", "day"})),
    "hold": (_hold, frozenset({"because"})),
    "no hold": (_no_hold, frozenset({"day"})),
    "sample": (_sample, frozenset({"got", "planned", "has", "has not"})),
    "pieces": (_pieces, frozenset({"characteristic", "count"})),
    "totals": (
        _totals,
        frozenset({*(part.replace("_", " ") for part in TOTAL_PARTS), "pages", "readings"}),
    ),
    "kiosk": (_kiosk, frozenset({"state", "day"})),
    "balance": (_balance, frozenset({"left"})),
    "day": (_day, frozenset({"hours"})),
    "text": (_text, frozenset({"contains", "lacks", "event", "asked"})),
    "seal": (_seal, frozenset({"word", "possible"})),
    "seal of": (_seal_of, frozenset({"unchanged since"})),
    "supplement": (_supplement, frozenset({"number", "readings", "pages", "has"})),
    "ledgers": (_ledgers, frozenset({"unchanged"})),
    "receipt": (_receipt, frozenset({"station"})),
    "refused": (_refused, frozenset({"says"})),
    "look-back": (
        look_back_misses,
        frozenset({"readings", "seconds under", "lacks lot", "lots in order", "notices to"}),
    ),
    "lot looked back upon": (lot_misses, frozenset({"gauge", "urgency", "hold", "worst", "says"})),
    "finding of": (finding_misses, frozenset({"is", "true"})),
}
"""Each kind with its function and the figures it knows."""
