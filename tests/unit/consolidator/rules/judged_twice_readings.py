"""Random readings of an invented plant: what is drawn for a night, and the readings that come of it.

Drawn are limits, plant numbers, the hour and how much goes wrong; the readings follow from a seed.
So one drawing is a thousand readings, and the same drawing is always the same readings.
"""

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from kiosk.lists import Characteristic, Lists
from tests.unit.consolidator.rules.judged_twice import BEGIN, hard_lists

_MASTER = Decimal("0.31225")
_ODD = ("Accept", "Reject", "accept", "", " ", "1e2", "3..1", "--3", "+", ".", "999999999", "1234567890",
        ".3125000001", "0", "-0", "2", "3", "3.0", "3.25", "4", "-1", "17", "12,8", "+.00025", "5", "-6")  # fmt: skip
_KEYED_AS = ("deviation", "divisions", "over wires", "accept/reject", "turns", "value")
_UNITS = ("in", "mm", "um", "lbf", "N", "HRC", "count")
_SLIPS = ("X26", "X27", "X28", "X29", "X30")
_PEOPLE = ("P-101", "P-102", "P-103", "P-104", "P-106", "P-107", "P-108", "P-999", None)
_AROUND_MS = (-1, 0, 1)


@dataclass(frozen=True)
class Drawn:
    """What is drawn for one night. `odds`: how often, of a hundred readings, each thing beside the figure is odd."""

    seed: int
    characteristics: tuple[dict[str, Any], ...]
    numbers: tuple[dict[str, Any], ...]
    first_at_s: int
    apart_s: int
    odds: int

    def lists(self) -> Lists:
        """Return the lists of the night."""
        return hard_lists(self.characteristics, self.numbers)


def _text(value: Decimal) -> str:
    return f"{value:f}"


@st.composite
def _characteristics(draw: st.DrawFn, number: str) -> dict[str, Any]:
    """Draw limits anywhere: wide or of one last place, beside nothing or far from it, with what else bears on them."""
    unit = Decimal(1).scaleb(-draw(st.integers(0, 6)))
    low = draw(st.integers(-20, 400)) * unit * draw(st.sampled_from((1, 7, 100)))
    wide = draw(st.integers(0, 50)) * unit
    kind = draw(st.sampled_from(("two-sided", "two-sided", "upper limit only", "lower limit only")))
    row: dict[str, Any] = {
        "number": number,
        "kind": kind,
        "unit": draw(st.sampled_from(("in", "in", "mm", "N", "HRC"))),
    }
    row |= {"lower": _text(low)} if kind != "upper limit only" else {}
    row |= {"upper": _text(low + wide)} if kind != "lower limit only" else {}
    if kind != "two-sided":
        row["shop_limit"] = _text(low + draw(st.integers(-3, 3)) * unit)
    if draw(st.booleans()):
        row["guard_band"] = _text(draw(st.integers(0, 3)) * unit / 2)
    row["feature"] = draw(st.sampled_from(("other", "face runout", "external rolled thread", "ground diameter")))
    row["gauge_kinds"] = draw(st.sampled_from(((), (), ("micrometer",), ("snap gauge", "indicator"))))
    row["is_heated"] = draw(st.sampled_from((False, False, True)))
    return row


_NUMBERS = {"N4a": ("5", "20"), "N4b": ("10", "100"), "N5a": ("0", "1"), "N5b": ("1", "10"), "N5c": ("0", "1"),
            "N5d": ("1", "3"), "N10a": ("0", "45"), "N10b": ("70", "90.5"), "N10c": ("0", "2.5"), "N11": ("0", "60"),
            "N3b": ("1", "100"), "N1": ("20", "25.5")}  # fmt: skip


@st.composite
def nights(draw: st.DrawFn) -> Drawn:
    """Draw a night."""
    changed = draw(st.lists(st.sampled_from(sorted(_NUMBERS)), max_size=3, unique=True))
    since = st.sampled_from((None, "2026-03-10T21:00:00.000-04:00", "2026-03-11T00:00:00.000-04:00"))
    numbers = [
        {"number": number, "value": draw(st.sampled_from(_NUMBERS[number])), "in_force_from": draw(since)}
        for number in changed
    ]
    return Drawn(
        seed=draw(st.integers(0, 2**32 - 1)),
        characteristics=tuple(draw(_characteristics(f"Y{place}")) for place in range(draw(st.integers(1, 6)))),
        numbers=tuple(numbers),
        first_at_s=draw(st.sampled_from((0, 3600, 3 * 3600 + 1800))),
        apart_s=draw(st.sampled_from((4, 7, 10))),
        odds=draw(st.sampled_from((5, 15, 40))),
    )


def readings(drawn: Drawn, lists: Lists, count: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the readings of a night, each with its time."""
    chance = random.Random(drawn.seed)
    texts = {what.number: _texts(what) for what in lists.characteristics}
    own = [what for what in lists.characteristics if what.number.startswith("Y")]
    gauges = [*dict.fromkeys(g.number for g in lists.gauges), "G-999", None]
    for at in range(count):
        what = chance.choice(own if chance.random() < 0.6 else lists.characteristics)
        moment = BEGIN + timedelta(seconds=drawn.first_at_s + drawn.apart_s * at)
        told = _told(chance, drawn.odds / 100, what, texts[what.number])
        told |= {"sample": at + 1, "piece": at + 1, "gauge": chance.choice(gauges)}
        told |= _heat(chance, round(moment.timestamp() * 1000), lists.numbers(moment).cool_down_min)
        if chance.random() < 0.3:
            hours = lists.numbers(moment).lists_flagged_h
            taken = moment - timedelta(hours=hours, milliseconds=chance.choice(_AROUND_MS))
            told["lists_taken_at_ms"] = round(taken.timestamp() * 1000)
        yield moment.isoformat(timespec="milliseconds"), told


def _told(chance: random.Random, odd: float, what: Characteristic, texts: list[str]) -> dict[str, Any]:
    usual_as = {"turns": "turns", "accept/reject": "accept/reject", "visual": "accept/reject"}.get(what.kind, "value")
    keyed_as = chance.choice(_KEYED_AS) if chance.random() < odd else usual_as
    earlier = [
        {"text": chance.choice(texts), "asked": chance.choice(([], [], [chance.choice(_SLIPS)], ["X28", "X27"]))}
        for _ in range(chance.choice((1, 1, 2)) if chance.random() < odd else 0)
    ]
    return {
        "keyed": chance.choice(_ODD) if chance.random() < odd else chance.choice(texts),
        "characteristic": what.number,
        "station": chance.choice(("S12", "S12", "S13", "S24")),
        "master": chance.choice((None, "M-14", "W-24", "W-28", "M-99")) if chance.random() < odd else None,
        "keyed_as": keyed_as,
        "unit": chance.choice(_UNITS) if chance.random() < odd else what.unit,
        "lot": chance.choice(("L-411", "L-412", "L-500", "L-999")) if chance.random() < odd else "L-411",
        "person": chance.choice(_PEOPLE) if chance.random() < odd else "P-101",
        "sample_kind": chance.choice(("run", "run", "first piece", "test", "lot acceptance", "re-measure")),
        "source": chance.choice(("from instrument", "from paper")) if chance.random() < odd else "keyed",
        "earlier": json.dumps(earlier, separators=(",", ":")) if earlier else "",
    }


def _heat(chance: random.Random, now_ms: int, cool_min: int) -> dict[str, Any]:
    told: dict[str, Any] = {}
    if chance.random() < 0.3:
        told["part_temperature"] = chance.choice(("76", "80", "80.1", "90.5", "70", "26.6", "26.7", "27"))
        told["gauge_temperature"] = chance.choice((None, "72", "70", "69.9", "90", "90.1", "21", "21.1", "21.2"))
        told["temperature_unit"] = "degC" if told["part_temperature"].startswith("2") else "degF"
    if chance.random() < 0.3:
        told["out_of_heat_at_ms"] = now_ms - cool_min * 60_000 + chance.choice((*_AROUND_MS, 600_000))
    return told


def _texts(what: Characteristic) -> list[str]:
    """Return texts on limits and beside them, at the borders of what is believed, and every slip of hand and eye."""
    limits = [Decimal(each) for each in (what.lower, what.upper) if each is not None]
    if not limits:
        return ["2", "3", "3.0", "3.25", "4"] if what.kind == "turns" else ["Accept", "Accept", "Reject"]
    wide = abs(limits[-1] - limits[0])
    shop, guard = Decimal(what.shop_limit or limits[0]), Decimal(what.guard_band or 0)
    borders = [*limits, *limits, limits[0] + wide / 2, shop, limits[0] + guard, limits[-1] - guard]
    borders += [limits[0] - 3 * wide, limits[-1] + 3 * wide, 4 * limits[0], limits[0] / 2, 2 * limits[0]]
    least = [Decimal(each) for each in ("0", "0", "1e-9", "-1e-9", "0.00005", "-0.00005", "0.001")]
    values = [border + step for border in borders for step in least]
    values += [border.scaleb(k) for border in borders[:5] for k in (-5, -2, -1, 1, 2, 5)]
    values += [border * Decimal("25.4") for border in borders[:5]] + [
        border / Decimal("25.4") for border in borders[:5]
    ]
    texts = [_text(round(value, 9)) for value in values]
    found = [each.removeprefix("0") if each.startswith("0.") else each for each in texts]
    found += [text + "00" for text in texts[:20] if "." in text] + [text.replace(".", ",") for text in texts[:20]]
    found += [f"+{text}" for text in texts[:10]] + [_swapped(text, at) for text in texts[:20] for at in (1, 2, 3)]
    found += [_text(round(border - _MASTER, 9)) for border in borders[:6]]
    return [text for text in found if len(text) <= 64]


def _swapped(text: str, at: int) -> str:
    letters = list(text)
    if at + 1 < len(letters) and letters[at].isdigit() and letters[at + 1].isdigit():
        letters[at], letters[at + 1] = letters[at + 1], letters[at]
    return "".join(letters)
