"""What is keyed for one piece: mostly good figures, at limits and past them, and every slip of hand and eye."""

import json
import random
from typing import Any

from kiosk.lists import Characteristic
from kiosk.lists.words import CharacteristicKind

_VALUES = {
    "BC1": (".3122", ".3122", ".31225", ".3120", ".3125", ".31249", ".3121", ".31255", ".3119", ".3142", "3.122",
            "7.93", ".3212", "31.22"),
    "BC2": (".2841", ".2840", ".28365", ".2837", ".2836", ".2835", ".2845", ".2849", ".2481", "7.21", "28.41", "2.84"),
    "BC4": (".3198", ".3190", ".3195", ".3187", ".31885", ".3215", ".3216", "3.198", "8.12", ".3918", ".2840"),
    "BC8": ("45.0", "46.2", "44.0", "48.0", "47.9", "48.1", "43.9", "4.62", "64.2", "45.05"),
    "BC9": ("13000", "12800", "12801", "12799", "15000", "1300", "21000"),
    "BC10": ("70000", "45000", "44999", "130000", "7000"),
    "NC1": (".0020", ".0028", ".0031", ".0030", ".0050", ".0051", ".003", "-.001", ".0201", ".05", "0", ".4"),
    "NC2": ("1700", "1650", "1600", "1599", "1500", "1499", "17000", "700", "5100"),
    "NC3": ("0", "3", "4", "2", "-1"),
    "NC5": ("7.931", "7.930", "7.921", "7.920", "7.940", "7.9405", ".3122", "79.31", "7.391", "7.922", "7.938"),
}  # fmt: skip
_GOOD = {"BC1": (".3122", ".31225", ".3121", ".3123"), "BC2": (".2841", ".2840", ".28405"), "NC1": (".0020", ".0012"),
         "BC4": (".3195", ".3196", ".31965"), "BC8": ("45.0", "46.2", "45.5"), "BC9": ("13000", "13420")}  # fmt: skip
_DEVIATIONS = (
    "+.00005",
    "0",
    "-.00005",
    "+.00025",
    "+.0003",
    "-.00025",
    "-.0003",
    "+.0001",
    ".0025",
    "+.00504",
    "-.004",
)
_DIVISIONS = ("1", "0", "-1", "5", "6", "-6", "50")
_WORDS = ("Accept",) * 8 + ("Reject", "accept", "3", "")
_TURNS = ("2", "3", "0", "2.5", "3.25", "4", "-1", "Accept", "Reject")
_UNREADABLE = ("", ".", "abc", "1e3", "..3", "1234567890", ".0000000001", "+")


def keyed_for(chance: random.Random, what: Characteristic, *, is_calm: bool = False) -> dict[str, Any]:
    """Return what was keyed, how, and in which unit; on a calm night mostly a good figure."""
    if is_calm and chance.random() < 0.85 and what.number in _GOOD:
        return {"keyed": chance.choice(_GOOD[what.number]), "unit": what.unit,
                "keyed_as": "over wires" if what.number == "BC4" else "value"}  # fmt: skip
    if what.kind in (CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.VISUAL):
        return {"keyed": chance.choice(_WORDS), "keyed_as": "accept/reject", "unit": what.unit}
    if what.kind is CharacteristicKind.TURNS:
        return {"keyed": chance.choice(_TURNS), "keyed_as": "turns", "unit": what.unit}
    keyed_as, texts = "value", _usual(chance, _VALUES[what.number])
    if what.number == "BC1" and chance.random() < 0.35:
        keyed_as, texts = chance.choice((("deviation", _DEVIATIONS), ("divisions", _DIVISIONS)))
    if what.number == "BC4":
        keyed_as = chance.choice(("over wires", "over wires", "value"))
    unit = what.unit if chance.random() < 0.96 else chance.choice(("in", "mm", "lbf", "N", "HRC"))
    keyed = chance.choice(texts) if chance.random() < 0.985 else chance.choice(_UNREADABLE)
    return {"keyed": keyed, "keyed_as": keyed_as, "unit": unit}


def _usual(chance: random.Random, texts: tuple[str, ...]) -> tuple[str, ...]:
    return texts[:5] if chance.random() < 0.75 else texts


def earlier_for(chance: random.Random, what: Characteristic, keyed: str) -> str:
    """Return earlier keyings of the same reading, as its page holds them."""
    if chance.random() < 0.85:
        return chance.choice(("", "[]"))
    keyings = []
    for _ in range(chance.choice((1, 1, 2))):
        text = chance.choice((keyed, keyed_for(chance, what)["keyed"]))
        asked = chance.choice(([], [], ["X26"], ["X28"], ["X29"], ["X26", "X27"], ["X30"]))
        keyings.append({"text": text, "asked": asked})
    return json.dumps(keyings, separators=(",", ":"))


def gauge_for(chance: random.Random, what: Characteristic, *, is_calm: bool) -> tuple[str | None, str | None]:
    """Return gauge and master scanned: mostly fitting ones, and on a calm night nearly always the best one."""
    usual = {
        "BC1": (("G-2", None), ("G-1", None), ("G-3", None), ("G-3", "M-1")),
        "BC2": (("G-2", None), ("G-1", None), ("G-12", None)),
        "BC4": (("G-4", "W-24"), ("G-4", "W-24"), ("G-4", "W-24M"), ("G-4", "W-28"), ("G-4", None)),
        "BC5": (("G-5", None), ("G-5", None), ("G-7", None)),
        "BC6": (("G-6", None), ("G-6", None), ("G-5", None)),
        "BC8": (("G-14", None), ("G-14", None), ("G-1", None)),
        "BC9": (("G-15", None), ("G-15", None), ("G-14", None)),
        "BC10": (("G-1", None),),
        "NC6": (("G-16", None), ("G-16", None), ("G-5", None)),
        "NC1": (("G-8", None),),
        "NC2": (("G-8", None),),
        "NC5": (("G-9", None), ("G-2", None), ("G-12", "M-2")),
    }.get(what.number, ((None, None),))
    if is_calm and chance.random() < 0.85:
        return usual[0]
    if chance.random() < 0.88:
        return chance.choice(usual)
    gauges = (None, "G-99", "G-1", "G-5", "G-9", "G-10", "G-11", "G-12", "G-13")
    return chance.choice(gauges), chance.choice((None, None, "M-1", "M-2", "M-9", "W-24"))
