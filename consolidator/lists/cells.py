"""One cell: from what stands in a file to a value of a row, and back; nothing is guessed.

Owns how figures, dates, times, words and several names are written in a list.
Must not know which list the cell is in.
"""

import re
import unicodedata
from datetime import UTC, date, datetime, time, tzinfo
from typing import Final

from consolidator.lists.files import Cell
from consolidator.lists.tables import Column, Form
from kiosk.measure.decimals import read_figure
from kiosk.times import write_time

Value = str | int | bool | date | tuple[str, ...] | None

_FIGURE: Final = re.compile(r"-?(\d{1,9}(\.\d{1,9})?|\.\d{1,9})", re.ASCII)
_WITH_COMMA: Final = re.compile(r"-?\d*(,\d+)+(\.\d+)?|-?\d+(\.\d+)*,\d+", re.ASCII)
_WHOLE: Final = re.compile(r"\d{1,9}", re.ASCII)
_DATE: Final = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_TIME: Final = re.compile(r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d(?::\d\d(?:\.\d{3})?)?)(?: ?([+-]\d\d:\d\d))?", re.ASCII)
_FIRST_YEAR: Final = 1970
_LAST_YEAR: Final = 2199
_HIDDEN: Final = ("Cc", "Cf", "Co", "Cs", "Zl", "Zp")


class CellFaulty(ValueError):
    """A cell that cannot be taken as it stands: what is wrong, why, and the next step."""

    def __init__(self, what: str, why: str, next_step: str) -> None:
        super().__init__(what)
        self.what = what
        self.why = why
        self.next_step = next_step


def is_blank(cell: Cell) -> bool:
    """True for a cell with nothing in it but ordinary spaces."""
    return isinstance(cell, str) and not cell.strip(" ")


def read_cell(cell: Cell, column: Column, zone: tzinfo) -> Value:
    """Return the value that `cell` stands for in `column`; none for a blank one.

    Raises:
        CellFaulty: it cannot be taken as it stands.
    """
    if not isinstance(cell, str):
        cell = _as_written(cell, column)
    text = cell.strip(" ")
    _refuse_hidden(text)
    if text.startswith("="):
        raise CellFaulty("the cell holds a formula", "a list keeps what was written", "write the value itself")
    if not text:
        return _blank(column)
    return _read_text(text, column, zone)


def write_cell(value: object, column: Column) -> str:
    """Return the text that `read_cell` reads back to `value`."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ";".join(str(item) for item in value)
    if isinstance(value, date):
        return value.isoformat()
    return str(value)


def short(text: str) -> str:
    """Return `text` in quotation marks, cut where it is long and with unprintable letters named."""
    shown = "".join(letter if letter.isprintable() else f"<U+{ord(letter):04X}>" for letter in text[:60])
    return f"'{shown}…'" if len(text) > 60 else f"'{shown}'"


def _blank(column: Column) -> Value:
    if column.form is Form.SEVERAL:
        return ()
    if column.needed:
        raise CellFaulty("the cell is empty", "every row needs it", f"write the {column.heading}")
    return None


def _read_text(text: str, column: Column, zone: tzinfo) -> Value:
    match column.form:
        case Form.FIGURE:
            return _figure(text)
        case Form.WHOLE:
            return _whole(text)
        case Form.DATE:
            return _date(text)
        case Form.TIME:
            return read_moment(text, zone)
        case Form.YES_NO:
            return _word(text, column) == "yes"
        case Form.WORD:
            return _word(text, column)
        case Form.SEVERAL:
            return _several(text, column)
        case Form.TEXT:
            return text


def _as_written(cell: Cell, column: Column) -> str:
    """Return the text of a workbook's cell that is not text, where nothing can have been lost."""
    if column.form is Form.YES_NO and isinstance(cell, bool):
        return "yes" if cell else "no"
    if column.form is Form.WHOLE and isinstance(cell, float) and cell.is_integer() and not isinstance(cell, bool):
        return str(int(cell))
    if isinstance(cell, datetime) and column.form is Form.TIME:
        return cell.isoformat(sep=" ", timespec="milliseconds")
    if isinstance(cell, date) and not isinstance(cell, datetime):
        if column.form is Form.TIME:
            return datetime.combine(cell, time(0, 0)).isoformat(sep=" ")
        if column.form is Form.DATE:
            return cell.isoformat()
    as_text = "format the column as Text, then write each value again as it stands on paper"
    if column.form is Form.FIGURE:
        why = "a workbook drops the zeros at the end of a number, and they say how finely it was given"
        raise CellFaulty("the figure is a number cell, not text", why, as_text)
    why = "a workbook may have changed what was written"
    raise CellFaulty(f"the cell is not text but {short(str(cell))} as a number, date or yes/no", why, as_text)


def _refuse_hidden(text: str) -> None:
    if text.isprintable():
        return
    for letter in text:
        kind = unicodedata.category(letter)
        if kind in _HIDDEN:
            why = f"it holds the unseen character U+{ord(letter):04X}"
            raise CellFaulty(f"{short(text)} was not taken", why, "wipe the cell and write it again")
        if kind == "Zs" and letter != " ":
            why = f"it holds the special space U+{ord(letter):04X}"
            raise CellFaulty(f"{short(text)} was not taken", why, "write it again with an ordinary space")


def _figure(text: str) -> str:
    if _WITH_COMMA.fullmatch(text):
        why = "a comma can stand for a point or for thousands"
        raise CellFaulty(
            *(f"{short(text)} is written with a comma", why),
            "write a point where the decimals begin and no mark for thousands",
        )
    if not _FIGURE.fullmatch(text):
        why = "a figure has digits, one point at most and a minus where needed, 9 digits each side at most"
        raise CellFaulty(f"{short(text)} is not a figure", why, "write it as on the drawing, without its unit")
    return read_figure(text)


def _whole(text: str) -> int:
    if not _WHOLE.fullmatch(text):
        raise CellFaulty(f"{short(text)} is not a whole number", "only digits are taken", "write it with digits alone")
    return int(text)


def _date(text: str) -> date:
    next_step = "write it as year-month-day, e.g. 2026-03-10"
    if not _DATE.fullmatch(text):
        why = "other ways to write a date can be read in two ways"
        raise CellFaulty(f"{short(text)} is not a date", why, next_step)
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise CellFaulty(f"{short(text)} is not a date", "the calendar has no such day", next_step) from error
    _refuse_far(text, day)
    return day


def _refuse_far(text: str, day: date) -> None:
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        why = f"years from {_FIRST_YEAR} to {_LAST_YEAR} are taken"
        raise CellFaulty(f"{short(text)} is too far away", why, "look at the year")


def read_moment(text: str, zone: tzinfo) -> str:
    """Return the page's text form of a time: plant local time as `2026-03-10 14:05`, its UTC offset behind it or not.

    Raises:
        CellFaulty: it is no time, or the plant's clocks did not show it once and once only.
    """
    found = _TIME.fullmatch(text)
    try:
        naive = datetime.fromisoformat(f"{found.group(1)}T{found.group(2)}") if found else None
    except ValueError:
        naive = None
    if found is None or naive is None:
        why = "a time is year-month-day hour:minute of the plant's clocks"
        raise CellFaulty(f"{short(text)} is not a time", why, "write it as 2026-03-10 14:05")
    _refuse_far(text, naive.date())
    shown = _moments_shown(naive, zone)
    offset = found.group(3)
    if not shown:
        why = "the plant's clocks were put forward over it"
        raise CellFaulty(f"{short(text)} was never shown", why, "write the time that the clocks showed")
    if offset is None and len(shown) > 1:
        both = " or ".join(write_time(moment)[-6:] for moment in shown)
        why = "the plant's clocks were put back and showed it twice"
        raise CellFaulty(f"{short(text)} may be either of two moments", why, f"write {both} behind it")
    fitting = [moment for moment in shown if offset is None or write_time(moment).endswith(offset)]
    if not fitting:
        why = f"the plant's clocks were {write_time(shown[0])[-6:]} from UTC then"
        raise CellFaulty(f"{short(text)} does not fit the plant's clocks", why, "mend the time or its offset")
    return write_time(fitting[0])


def _moments_shown(naive: datetime, zone: tzinfo) -> list[datetime]:
    """Return the moments at which the plant's clocks showed `naive`, the earlier first: none, one or two."""
    shown: list[datetime] = []
    for fold in (0, 1):
        moment = naive.replace(tzinfo=zone, fold=fold)
        back = moment.astimezone(UTC).astimezone(zone)
        if back.replace(tzinfo=None) == naive and moment.utcoffset() not in [one.utcoffset() for one in shown]:
            shown.append(moment)
    return shown


def _word(text: str, column: Column) -> str:
    if text not in column.words:
        what = f"{short(text)} is no {column.heading}"
        raise CellFaulty(what, "only the words of the list are taken", f"write one of: {', '.join(column.words)}")
    return text


def _several(text: str, column: Column) -> tuple[str, ...]:
    items = tuple(item.strip(" ") for item in text.split(";"))
    if "" in items:
        raise CellFaulty(
            *(f"{short(text)} has a gap", "there is nothing between two of its semicolons"),
            "write the names with one ; between",
        )
    if len(set(items)) < len(items):
        raise CellFaulty(f"{short(text)} says one name twice", "each may stand once", "leave one of the two")
    if column.words:
        items = tuple(_word(item, column) for item in items)
    return items
