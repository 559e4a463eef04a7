"""A sentence said in another language: its words change, its figures and names stay."""

import pytest

from kiosk.languages import ENGLISH, Languages
from kiosk.lists.words import GaugeKind
from kiosk.pages.words import Verdict
from kiosk.said import say, say_count

ALL = Languages()
LEFT_TO_RIGHT = "\u200f\u202a{}\u202c\u200f"


def test_a_name_and_a_figure_stay_as_they_are() -> None:
    """The words are German, the gauge is G-107."""
    said = say("Check {gauge} now", gauge="G-107")

    assert ALL.of("de").speak(said) == "G-107 jetzt prüfen"
    assert said == "Check G-107 now"


def test_a_sentence_inside_a_sentence_is_said_too() -> None:
    """The swap partner's sentence stands inside the one about the gauge that goes out."""
    said = say("{gauge} goes out at midnight. {swap}", gauge="G-107", swap=say("Swap: {gauge}.", gauge="G-108"))

    assert ALL.of("de").speak(said) == "G-107 läuft um Mitternacht ab. Tausch: G-108."


def test_a_word_of_a_fixed_list_is_said_in_the_language() -> None:
    """A verdict and a kind of gauge are words, not names."""
    kept = say("Kept: {shown}. {verdict}.", shown=".31255", verdict=Verdict.OUT)
    kind = say("{number} {kind}", number="G-108", kind=GaugeKind.MICROMETER)

    assert ALL.of("fr").speak(kept) == "Gardé : .31255. Hors tolérance."
    assert ALL.of("es").speak(kind) == "G-108 micrómetro"


@pytest.mark.parametrize(
    ("code", "count", "told"),
    [
        ("en", "1", "1 division UNDER"),
        ("en", "0.5", "0.5 divisions UNDER"),
        ("pl", "2", "2 działki POD"),
        ("pl", "2.5", "2.5 działki POD"),
        ("pl", "5", "5 działek POD"),
        ("fr", "1.5", "1.5 division MOINS"),
        ("fr", "2.5", "2.5 divisions MOINS"),
        ("de", "1", "1 Teilstrich UNTER"),
        ("de", ".", ". Teilstriche UNTER"),
    ],
)
def test_a_count_takes_its_form_and_is_shown_as_keyed(code: str, count: str, told: str) -> None:
    """Forms by the plural rules of Unicode CLDR; the figure itself is never written in another way."""
    said = say_count("{n} division UNDER", "{n} divisions UNDER", n=count)

    assert ALL.of(code).speak(said) == told


def test_figures_inside_arabic_read_from_left_to_right() -> None:
    """Between marks that keep its point before it and its unit behind it."""
    said = say("{figure} {unit} from instrument {gauge}", figure="-.0012", unit="in", gauge="G-1")

    told = ALL.of("ar").speak(said)

    assert LEFT_TO_RIGHT.format("-.0012 in") in told
    assert LEFT_TO_RIGHT.format("G-1") in told


def test_a_word_beside_a_figure_is_not_turned_round() -> None:
    """Only the figure is marked; the Arabic word beside it keeps its own direction."""
    told = ALL.of("ar").speak(say("{number} {kind}", number="G-108", kind=GaugeKind.MICROMETER))

    assert told == LEFT_TO_RIGHT.format("G-108") + " ميكرومتر"


@pytest.mark.parametrize("code", ["en", "xx", "", "zh-CN"])
def test_a_language_that_is_not_here_is_english(code: str) -> None:
    """Nobody stands before an empty screen because of a code in a list."""
    assert ALL.of(code) is ENGLISH


@pytest.mark.parametrize("code", ["de-AT", "de_AT", "DE"])
def test_a_country_s_language_is_the_language(code: str) -> None:
    """The lists may say which country's."""
    assert ALL.of(code) is ALL.of("de")


def test_a_sentence_in_no_catalogue_is_said_in_english() -> None:
    """The person still learns that something is wrong; the tests of the catalogues keep this from happening."""
    assert (
        ALL.of("de").speak(say("{what} is invented for this test.", what="This")) == "This is invented for this test."
    )
    assert ALL.of("ar").is_right_to_left
    assert not ALL.of("pl").is_right_to_left
