"""Values that plugged-in gauges send, at the screens of an invented station: taken as sent, or told with why not."""

from decimal import Decimal
from typing import Self

import pytest

from kiosk.acts.instruments import Instruments
from kiosk.devices import Away, Indicated, There, Unread
from kiosk.pages.readings import AskedAgain, Check, Reading
from kiosk.pages.words import CheckVerdict, KeyedAs, Source
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring


class AtAPiece:
    """One person whose screen asks for piece 1 of the shank, with the micrometer G-108 plugged in."""

    def __init__(self, gauge: str = "G-108") -> None:
        self.at: AtAScreen = measuring().pick("BC1").scan(gauge)
        self.gauge = gauge
        self._instruments = Instruments(self.at.steps, self.at.post.clock)
        self._instruments.take(gauge, There())

    def sends(self, figure: str, unit: str = "in", *, gauge: str | None = None, after_s: float = 3.0) -> Self:
        """Let a gauge send a value some seconds after the one before."""
        return self.comes(Indicated(figure, unit, False), gauge=gauge, after_s=after_s)

    def comes(
        self, event: Indicated | Unread | Away | There, *, gauge: str | None = None, after_s: float = 3.0
    ) -> Self:
        """Let anything come from a gauge's line."""
        self.at.post.clock.wait(after_s)
        self._instruments.take(gauge or self.gauge, event)
        return self

    @property
    def status(self) -> list[str]:
        """What the status line says of the gauges."""
        return list(self._instruments.away())

    @property
    def kept(self) -> list[Reading]:
        """The readings kept."""
        return self.at.post.pages(Reading)


def test_a_value_is_kept_as_sent_and_marked_from_instrument() -> None:
    """`+0.31240`: sign and trailing nought stay; the page says where it came from, and so does the screen."""
    piece = AtAPiece().sends("+0.31240")

    (kept,) = piece.kept
    assert (kept.keyed, kept.value, kept.unit, kept.source) == ("+0.31240", "0.31240", "in", Source.INSTRUMENT)
    assert (kept.gauge, kept.piece) == ("G-108", 1)
    assert "+0.31240 in from instrument G-108" in piece.at.words


def test_five_values_with_time_between_are_five_pieces() -> None:
    """One press a piece, no tap on the screen."""
    piece = AtAPiece()
    for figure in ("0.3121", "0.3122", "0.3123", "0.3124", "0.3122"):
        piece.sends(figure)

    assert [(one.piece, one.keyed) for one in piece.kept] == list(
        enumerate(("0.3121", "0.3122", "0.3123", "0.3124", "0.3122"), start=1)
    )


@pytest.mark.parametrize("second", ["0.3122", "0.3123"])
def test_a_second_value_at_once_is_told_and_not_taken(second: str) -> None:
    """A bouncing foot switch, or two values in one burst: the first is kept, the other is on the screen."""
    piece = AtAPiece().sends("0.3122").sends(second, after_s=0.2)

    assert [one.keyed for one in piece.kept] == ["0.3122"]
    assert f"G-108 sent {second} in at once after it: not taken." in piece.at.words
    assert "Kept" in piece.at.words


def test_a_value_of_another_gauge_is_not_taken() -> None:
    """The gauge that was scanned for this piece is named; the value is not a reading."""
    piece = AtAPiece().sends("0.3122", gauge="G-220")

    assert piece.kept == []
    assert "G-220 sent 0.3122 in: not taken." in piece.at.words
    assert "It is not the gauge scanned for this piece: G-108." in piece.at.words


def test_a_value_in_another_unit_than_the_register_s_is_not_taken() -> None:
    """Somebody switched the gauge over; nothing is converted on its own authority."""
    piece = AtAPiece().sends("7.930", "mm")

    assert piece.kept == []
    assert "It is to read in in here." in piece.at.words


def test_a_value_beside_a_half_keyed_figure_is_not_taken() -> None:
    """Two figures for one piece: the person says which."""
    piece = AtAPiece()
    piece.at.press("0", ".", "3")
    piece.sends("0.3122")

    assert piece.kept == []
    assert piece.at.steps.figure == "0.3"


@pytest.mark.parametrize("where", ["hub", "full", "badged out"])
def test_a_value_while_no_piece_is_asked_for_is_told_and_not_taken(where: str) -> None:
    """It belongs to no piece: the screen says so, and the next step."""
    piece = AtAPiece()
    if where == "full":
        for figure in ("0.3121", "0.3122", "0.3123", "0.3124", "0.3122"):
            piece.sends(figure)
    else:
        piece.at.press("pick back")
    if where == "badged out":
        piece.at.more("This kiosk", "Badge out")
    before = len(piece.kept)

    piece.sends("0.3122")

    assert len(piece.kept) == before
    assert "No piece is asked for on this screen." in piece.at.words


def test_a_value_far_off_is_kept_as_sent_and_not_asked_about() -> None:
    """A person can slip with a key, an instrument cannot: what it sent is kept, blocked where a rule says so."""
    piece = AtAPiece().sends("3.1240")

    assert [one.keyed for one in piece.kept] == ["3.1240"]
    assert piece.at.post.pages(AskedAgain) == []


def test_a_dial_sends_its_deviation() -> None:
    """Master .31225 and .0002 under is .31205 (by hand)."""
    piece = AtAPiece("G-220")
    piece.at.pick("Check G-220 now").key("0")
    piece.comes(Indicated("-0.0002", "in", True))

    (kept,) = piece.kept
    assert (kept.keyed, kept.keyed_as, kept.value) == ("-0.0002", KeyedAs.DEVIATION, "0.31205")


@pytest.mark.parametrize(("why", "words"), [("noise", "sent what is no value"), ("half", "was cut off in a value")])
def test_what_is_no_value_is_told_as_it_came(why: str, words: str) -> None:
    """Nothing of it is taken, and what was said of the piece before stays."""
    piece = AtAPiece().sends("0.3122")
    piece.comes(Unread("0.31", why))  # type: ignore[arg-type]
    piece.comes(Unread("0.32", why))  # type: ignore[arg-type]

    assert len(piece.kept) == 1
    assert f"G-108 {words}: 0.32." in piece.at.words
    assert "0.31." not in piece.at.words
    assert "Kept" in piece.at.words


def test_an_unplugged_gauge_stands_on_the_status_line_until_it_is_back() -> None:
    """Pulled out and plugged in again: told both times; what was kept before stays on the screen."""
    piece = AtAPiece().sends("0.3122").comes(Away("gone"))
    assert piece.status == ["G-108 not plugged in"]
    assert "G-108 was unplugged." in piece.at.words

    piece.comes(There())

    assert piece.status == []
    assert "G-108 is plugged in again." in piece.at.words
    assert "Kept" in piece.at.words


def test_a_gauge_that_was_never_there_interrupts_nobody() -> None:
    """A kiosk that starts without its gauge says so on the status line only."""
    piece = AtAPiece().comes(Away("gone"), gauge="G-120")

    assert piece.status == ["G-120 not plugged in"]
    assert "G-120" not in piece.at.words


def test_keep_with_nothing_keyed_asks_a_gauge_that_answers() -> None:
    """One press on the pad; a gauge that cannot be asked is left alone and the pad says that nothing is keyed."""
    piece, asked = AtAPiece(), list[str]()

    def ask(gauge: str) -> bool:
        asked.append(gauge)
        return len(asked) == 1

    piece.at.steps.ask_gauge = ask
    piece.at.press("keep")
    assert "G-108 is asked for its value." in piece.at.words

    piece.at.press("keep")

    assert asked == ["G-108", "G-108"]
    assert "Nothing is keyed yet." in piece.at.words


class AtAZeroCheck(AtAPiece):
    """One person whose screen asks what the snap gauge G-220 shows on its master M-14, .31225 in."""

    def __init__(self) -> None:
        super().__init__("G-220")
        self.at.pick("Check G-220 now")

    @property
    def checks(self) -> list[Check]:
        """The checks kept."""
        return self.at.post.pages(Check)


def test_a_zero_check_takes_its_value_from_the_gauge_itself() -> None:
    """As sent, marked from instrument, judged like one that was keyed; the way goes on to the piece."""
    check = AtAZeroCheck().comes(Indicated("+0.00000", "in", True))

    (kept,) = check.checks
    assert (kept.keyed, kept.keyed_as, kept.source) == ("+0.00000", KeyedAs.DEVIATION, Source.INSTRUMENT)
    assert (kept.error, kept.verdict) == ("0.00000", CheckVerdict.GOOD)
    assert "+0.00000 in from instrument G-220" in check.at.words
    assert "Piece 1" in check.at.steps.shown.title


def test_a_whole_value_is_compared_with_the_master() -> None:
    """.31235 on a master of .31225 is .0001 over, and a tenth of the tolerance of .0005 is allowed (N7)."""
    check = AtAZeroCheck().sends("0.31235")

    (kept,) = check.checks
    assert (Decimal(kept.error), Decimal(kept.limit)) == (Decimal("0.0001"), Decimal("0.00005"))
    assert kept.verdict is CheckVerdict.FAILED
    assert "STOP. G-220 is off zero" in check.at.words


def test_a_check_that_a_person_keys_bears_no_source() -> None:
    """Pages of before and of now are the same bytes."""
    check = AtAZeroCheck()
    check.at.press("0", "keep")

    (kept,) = check.checks
    assert kept.source is None
    assert "source" not in kept.model_dump(mode="json", exclude_none=True)


@pytest.mark.parametrize(
    ("figure", "unit", "gauge", "words"),
    [
        ("0.31225", "in", "G-108", "The check on the screen is of G-220."),
        ("7.931", "mm", "G-220", "It is to read in in here."),
    ],
)
def test_what_is_not_of_this_check_is_told_and_not_taken(figure: str, unit: str, gauge: str, words: str) -> None:
    """Another gauge's value, or one in another unit, checks nothing."""
    check = AtAZeroCheck().sends(figure, unit, gauge=gauge)

    assert check.checks == []
    assert words in check.at.words


def test_a_value_beside_a_half_keyed_check_is_not_taken() -> None:
    """One figure at a time."""
    check = AtAZeroCheck()
    check.at.press("1")
    check.sends("0.31225")

    assert check.checks == []
    assert "half keyed" in check.at.words
