"""Every sentence a station can say: short, without a hint, sayable in another language."""

import ast
from pathlib import Path

import pytest

import kiosk.station
from kiosk.judge import EFFECT
from kiosk.pages.words import Standing
from kiosk.station import Said, say
from kiosk.station._said import warnings_of

SLIPS = {"X26", "X27", "X28", "X29", "X30"}
"""Asked about while keying; nothing more is said of them afterwards."""


def templates() -> list[str]:
    """Every template that stands in the station's code."""
    found = []
    for path in sorted(Path(kiosk.station.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say" and node.args:
                first = node.args[0]
                if isinstance(first, ast.Constant) and isinstance(first.value, str):
                    found.append(first.value)
    return found


@pytest.mark.parametrize("reason", sorted(r for r, effect in EFFECT.items() if effect is Standing.BLOCKED))
def test_every_reason_that_blocks_is_said_and_begins_with_stop(reason: str) -> None:
    """Nobody finds out the next morning what the kiosk knew at night."""
    if reason in SLIPS:
        return

    assert warnings_of([reason], "G-1")[0].startswith("STOP. ")


def test_stop_comes_first() -> None:
    """What stops the work is read before what is merely noted."""
    told = warnings_of(["X13", "X01"], "G-1")

    assert [sentence.startswith("STOP") for sentence in told] == [True, False]


@pytest.mark.parametrize("template", templates())
def test_a_sentence_is_short_and_plain(template: str) -> None:
    """At most 120 letters, no exclamation mark, no blame, none of the words that lead the witness."""
    words = template.lower()

    assert len(template) <= 120
    assert "!" not in template
    for banned in ("invalid", "error", "wrong value", "did you mean", "should be", "expected", "your fault", "null"):
        assert banned not in words


def test_a_sentence_carries_what_it_was_made_of() -> None:
    """So that a screen can say it in the language of the badge."""
    sentence = say("{gauge} goes out at midnight.", gauge="G-107")

    assert sentence == "G-107 goes out at midnight."
    assert (sentence.template, sentence.values) == ("{gauge} goes out at midnight.", {"gauge": "G-107"})
    assert isinstance(sentence, Said)
