"""A gauge or master found out: which readings it touches, what is found of each, which lots, shipped first.

Owns windows, findings, lots and the facts for a customer. Must not close a day, and writes nothing.
"""

from consolidator.lookback.again import FINDINGS, Finding, Told
from consolidator.lookback.exceptions import NUMBERS, rules
from consolidator.lookback.findings import Findings, findings
from consolidator.lookback.in_doubt import doubt_rule
from consolidator.lookback.look_back import LookBack, Read, UserInQuestion, look_back
from consolidator.lookback.lots import LotInQuestion, Shipped, Where, lots_in_question
from consolidator.lookback.windows import Border, Why, Window, Windows
from consolidator.lookback.words import CAUTION, Notice

__all__ = [
    "CAUTION",
    "FINDINGS",
    "NUMBERS",
    "Border",
    "Finding",
    "Findings",
    "LookBack",
    "LotInQuestion",
    "Notice",
    "Read",
    "Shipped",
    "Told",
    "UserInQuestion",
    "Where",
    "Why",
    "Window",
    "Windows",
    "doubt_rule",
    "findings",
    "look_back",
    "lots_in_question",
    "rules",
]
