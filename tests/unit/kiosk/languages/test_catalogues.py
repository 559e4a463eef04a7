"""The catalogues beside the program: whole, with the same places for values, drawable, short enough for their keys."""

import ast
import re
import unicodedata
from decimal import Decimal
from functools import cache
from gettext import GNUTranslations
from pathlib import Path

import pytest
from babel import Locale
from babel.messages.catalog import Message
from fontTools.ttLib import TTFont

import kiosk.acts
import kiosk.screens
from kiosk.languages import Languages
from kiosk.languages.__main__ import missing
from kiosk.languages._catalogues import CODES, read_catalogue, read_translations
from kiosk.languages._templates import templates
from kiosk.measure.decimals import read_figure
from kiosk.said import Said
from kiosk.screens.drawing import BOLD_LETTERS, LAST_COLUMN_MM, MARGIN_MM, Layout
from kiosk.screens.panel import GAP_MM, TEXT_MM, Panel
from kiosk.settings import Settings

FONTS = Path(kiosk.screens.__file__).with_name("page") / "assets" / "fonts"
MARKS = "\u200f\u202a\u202c\u2212\u232b"
"""Signs that are put in beside the catalogues."""
LONGEST = 125
"""Most letters of a sentence: five lines beside the bar at 27 letters a line, with room for a number or two."""
ALL = Languages()
EDGE_MM = 0.5
PADDING_MM = 0.5


def said_in(message: Message) -> tuple[str, ...]:
    """Every form of an entry's words."""
    given = message.string
    return tuple(str(form) for form in given) if isinstance(given, tuple | list) else (str(given),)


def told_in(message: Message) -> tuple[str, ...]:
    """Every form of an entry as it stands in the program."""
    given = message.id
    return tuple(str(form) for form in given) if isinstance(given, tuple | list) else (str(given),)


@cache
def entries(code: str) -> tuple[Message, ...]:
    """The entries of a language, without the head."""
    return tuple(message for message in read_catalogue(code) if message.id)


@cache
def in_the_program() -> frozenset[str]:
    """Every template and word of the program."""
    return frozenset(text for one in templates() for text in (one.text, one.one) if text)


@cache
def font(name: str) -> tuple[dict[int, str], dict[str, tuple[int, int]]]:
    """The glyphs of one of the bundled fonts by letter, and their widths by glyph."""
    opened = TTFont(FONTS / name)
    return opened.getBestCmap(), opened["hmtx"].metrics


@cache
def joined_forms() -> dict[tuple[str, str], str]:
    """Arabic letters as they stand in a word, by letter and place (Unicode's own table of presentation forms)."""
    found = {}
    for code in range(0xFE80, 0xFEFD):
        place, _, letter = unicodedata.decomposition(chr(code)).partition(" ")
        if " " not in letter and letter:
            found[(chr(int(letter, 16)), place)] = chr(code)
    return found


def shaped(words: str) -> str:
    """Return words with Arabic letters as they join, and without marks that take no room."""
    letters = [one for one in words if unicodedata.category(one) not in ("Cf", "Mn")]
    forms, joined = joined_forms(), []
    for place, letter in enumerate(letters):
        before = place > 0 and (letters[place - 1], "<initial>") in forms and (letter, "<final>") in forms
        follower = letters[place + 1] if place + 1 < len(letters) else " "
        after = (letter, "<initial>") in forms and (follower, "<final>") in forms
        kind = "<medial>" if before and after else "<final>" if before else "<initial>" if after else "<isolated>"
        joined.append(forms.get((letter, kind), letter))
    return "".join(joined)


def width_mm(words: str, *, bold: bool = False, capital_mm: float = TEXT_MM) -> float:
    """Return how wide words stand, by the font's own table of widths; a capital is 1493 of 2048 units high."""
    glyphs, widths = font("DejaVuSansCondensed-Bold.ttf" if bold else "DejaVuSansCondensed.ttf")
    units = sum(widths[glyphs[ord(letter)]][0] for letter in shaped(words))
    return units / 1493 * capital_mm


@pytest.mark.parametrize("code", CODES)
def test_a_catalogue_has_every_sentence(code: str) -> None:
    """Nothing on a screen is said in English to a person who does not read it: run `python -m kiosk.languages`."""
    catalogue = read_catalogue(code)

    assert missing(catalogue) == []
    assert in_the_program() - {told for message in entries(code) for told in told_in(message)} == set()


@pytest.mark.parametrize("code", CODES)
def test_the_same_places_for_values_stand_in_every_form(code: str) -> None:
    """No gauge, limit or count drops out of a sentence on its way into another language."""
    for message in entries(code):
        wanted = sorted(re.findall(r"\{\w+\}", told_in(message)[-1]))
        for words in said_in(message):
            assert sorted(re.findall(r"\{\w+\}", words)) == wanted, words


@pytest.mark.parametrize("code", CODES)
def test_figures_are_never_localised(code: str) -> None:
    """Digits are 0 to 9 and those of the English sentence, and none carries a comma or a thousands mark."""
    for message in entries(code):
        english = re.sub(r"\{\w+\}", "", told_in(message)[-1])
        # Vietnamese writes the zero of a gauge as a figure.
        wanted = {*re.findall(r"\d+", english), *(("0",) if "zero" in english.lower() else ())}
        for words in said_in(message):
            outside = re.sub(r"\{\w+\}", "", words)
            assert all(digit in "0123456789" for digit in outside if digit.isdecimal()), words
            assert set(re.findall(r"\d+", outside)) <= wanted, words


@pytest.mark.parametrize("code", CODES)
def test_what_says_stop_says_it_first_in_every_language(code: str) -> None:
    """The word beside the octagon is the first word of the sentence."""
    stop = said_in(read_catalogue(code)["STOP"])[0]
    for message in entries(code):
        if told_in(message)[0].startswith("STOP"):
            assert all(words.startswith(stop) for words in said_in(message)), said_in(message)


@pytest.mark.parametrize("code", CODES)
def test_a_sentence_is_short_calm_and_written_in_one_form(code: str) -> None:
    """At most as long as finds room, no exclamation mark, no blank at an end, letters and marks composed."""
    for message in entries(code):
        for words in said_in(message):
            assert len(words) <= LONGEST, words
            assert "!" not in words
            assert words == words.strip()
            assert unicodedata.is_normalized("NFC", words)


@pytest.mark.parametrize("name", ["DejaVuSansCondensed.ttf", "DejaVuSansCondensed-Bold.ttf"])
@pytest.mark.parametrize("code", ["en", *CODES])
def test_every_letter_is_in_the_bundled_type(code: str, name: str) -> None:
    """No sign is drawn as an empty box, and the page asks nobody for another type."""
    glyphs, _ = font(name)
    if code == "en":
        words = "".join(in_the_program())
    else:
        words = "".join(form for message in entries(code) for form in said_in(message))

    assert {letter for letter in words + MARKS if ord(letter) not in glyphs} == set()


@pytest.mark.parametrize("code", CODES)
def test_counts_take_the_form_that_unicode_s_rules_give(code: str) -> None:
    """Two counts of one category of the Unicode plural rules (CLDR) have one form; those of two categories two."""
    rule, translations = Locale.parse(code).plural_form, read_translations(code)
    forms: dict[str, set[str]] = {}
    for count in range(0, 201):
        said = translations.ngettext("{n} division UNDER", "{n} divisions UNDER", count)
        forms.setdefault(rule(count), set()).add(said)

    assert all(len(found) == 1 for found in forms.values()), forms


def test_polish_counts_as_a_polish_grammar_does() -> None:
    """1 dzialka, 2 dzialki, 5 dzialek, 12 dzialek, 22 dzialki (plural rules of Unicode CLDR, language pl)."""
    translations: GNUTranslations = read_translations("pl")
    told = [translations.ngettext("{n} division OVER", "{n} divisions OVER", n).split()[1] for n in (1, 2, 5, 12, 22)]

    assert told == ["działka", "działki", "działek", "działek", "działki"]


PAD_MM = LAST_COLUMN_MM - 2 * (EDGE_MM + PADDING_MM)
LAYOUT = Layout(Panel.from_settings(Settings()))
FOOT_MM = (LAYOUT.foot.width - 2 * GAP_MM) / 3 - 2 * (EDGE_MM + PADDING_MM)
CHOICE_MM = LAYOUT.keys.width - 2 * (EDGE_MM + 4) - 4 - 5


@pytest.mark.parametrize("code", ["en", *CODES])
@pytest.mark.parametrize("key", ["UNDER", "OVER", "Keep"])
def test_a_word_on_the_pad_stands_in_one_line(code: str, key: str) -> None:
    """On the smallest panel the words beside the digits are not cut; bold only where the drawing makes it bold."""
    words = ALL.of(code).speak(Said(key))

    assert width_mm(words, bold=key == "Keep" and len(words) <= BOLD_LETTERS) <= PAD_MM


@pytest.mark.parametrize("code", ["en", *CODES])
@pytest.mark.parametrize("key", ["I dropped it", "More", "Back", "Read on"])
def test_a_key_under_the_words_holds_them_in_two_lines(code: str, key: str) -> None:
    """The keys that are on every screen are read whole."""
    words = ALL.of(code).speak(Said(key))

    assert lines_of(words, FOOT_MM, bold=False) <= 2


@pytest.mark.parametrize("code", ["en", *CODES])
def test_a_choice_holds_its_words_in_two_lines(code: str) -> None:
    """Every sentence that is a choice's words stands on its key whole, bold, on the smallest panel."""
    language = ALL.of(code)
    for template in choice_templates():
        told = language.speak(Said(template, **dict.fromkeys(re.findall(r"\{(\w+)\}", template), "G-1042")))
        assert lines_of(told, CHOICE_MM, bold=True) <= 2, told


def choice_templates() -> set[str]:
    """Return the templates of words on choices: those given to a `Choice`, and those in a table of words."""
    found: set[str] = set()
    for path in sorted(Path(kiosk.acts.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Choice":
                found |= said_under(node.args[0])
            elif isinstance(node, ast.Dict):
                found |= {one for value in node.values for one in said_under(value)}
    assert len(found) > 100
    return found


def said_under(node: ast.AST) -> set[str]:
    """Return the templates said in an expression."""
    calls = (one for one in ast.walk(node) if isinstance(one, ast.Call) and getattr(one.func, "id", "") == "say")
    return {str(call.args[0].value) for call in calls if isinstance(call.args[0], ast.Constant)}


def lines_of(words: str, room_mm: float, *, bold: bool) -> int:
    """Return how many lines words take; a single word that is too wide counts as many."""
    lines, line = 1, ""
    for word in words.split():
        if width_mm(word, bold=bold) > room_mm:
            return 99
        longer = f"{line} {word}".strip()
        if width_mm(longer, bold=bold) > room_mm:
            lines, line = lines + 1, word
        else:
            line = longer
    return lines


@pytest.mark.parametrize("code", ["en", *CODES])
def test_the_status_line_of_an_ordinary_day_stands_in_its_two_lines(code: str) -> None:
    """Page 12,345, 312 pages not carried since yesterday, lists two days old, both stores good."""
    status = (
        Said("{station}. Page {number}.", station="S12", number=12345),
        Said.counted(
            "Not carried since {since}: {n} page safe here", "Not carried since {since}: {n} pages safe here",
            Decimal(312), {"n": 312, "since": "2026-11-24 06:00"},
        ),
        Said("Lists {hours} h old", hours=48), Said("Both stores good"),
    )  # fmt: skip
    told = "  \N{MIDDLE DOT}  ".join(ALL.of(code).speak(one) for one in status)

    assert {one.template for one in status} <= in_the_program()
    assert lines_of(told, LAYOUT.status.width - 2 * MARGIN_MM, bold=False) <= 2


def test_a_comma_is_a_point_whatever_the_language() -> None:
    """A figure is read the same from every pad; no language changes what a comma means."""
    assert Decimal(read_figure("12,800")) == Decimal("12.8")
