"""Draws a screen's value with Flet, every size in millimetres of the panel.

Owns where things stand and how they look. Must not know the station or the book.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import flet as ft
import flet.canvas as cv

from kiosk.acts.shown import Bar, Choice, Mark, Pad, Ruler, Shown, Told
from kiosk.lists.words import GaugeKind
from kiosk.screens.panel import CAPITAL_SHARE, COLOURS, GAP_MM, KEY_MM, LINE, TEXT_MM, VALUE_MM, Panel
from kiosk.screens.pictures import picture
from kiosk.station import Said, say

Speak = Callable[[Said], str]
"""Says a sentence in the language of the badge."""
Touch = Callable[[str], None]

MARGIN_MM: Final = 3.0
STATUS_MM: Final = 20.0
PAD_KEY_MM: Final = 24.5
LAST_COLUMN_MM: Final = 30.0
"""Width of the pad's keys with words, in which UNDER stands in one line."""
CHARACTER_SHARE: Final = 0.53
"""Width of a character with the space around it as a share of the type size, on the wide side, to reckon lines with."""
BOLD_LETTERS: Final = 5
"""Letters that find room in bold type on a key of the pad's last column."""
SPACING_MM: Final = 1.5
MARK_MM: Final = 10.0
PICTURE_MM: Final = 14.0
BAR_MM: Final = 11.0
PAD_ROWS: Final = (("7", "8", "9", "-"), ("4", "5", "6", "+"), ("1", "2", "3", "keep"), ("0", ".", "back one", ""))
MARK_COLOURS: Final = {
    Mark.STOP: (COLOURS.on_strong, COLOURS.stop),
    Mark.LOOK: (COLOURS.ink, COLOURS.look),
    Mark.OK: (COLOURS.ink, COLOURS.good),
    Mark.PLAIN: (COLOURS.ink, COLOURS.ground),
}


@dataclass(frozen=True)
class Box:
    """A place on the panel in millimetres."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Label:
    """What stands on a key; `name` is what it is called where its face is a sign."""

    words: str
    is_strong: bool = False
    is_bold: bool = True
    number: int | None = None
    detail: str = ""
    name: str = ""
    capital_mm: float = TEXT_MM
    picture: GaugeKind | None = None


@dataclass(frozen=True)
class Layout:
    """Where the parts of a screen stand on one panel, for one hand."""

    panel: Panel
    is_left_handed: bool = False

    @property
    def keys(self) -> Box:
        """The block of keys, at the side of the hand."""
        height = self.panel.height_mm - STATUS_MM - 2 * MARGIN_MM
        width = max(3 * PAD_KEY_MM + LAST_COLUMN_MM + 3 * GAP_MM, self.panel.width_mm * 0.445)
        left = MARGIN_MM if self.is_left_handed else self.panel.width_mm - MARGIN_MM - width
        return Box(left, MARGIN_MM, width, height)

    @property
    def words(self) -> Box:
        """The block of words, on the other side."""
        keys = self.keys
        width = self.panel.width_mm - keys.width - 2 * MARGIN_MM - GAP_MM
        left = keys.width + MARGIN_MM + GAP_MM if self.is_left_handed else MARGIN_MM
        return Box(left, MARGIN_MM, width, keys.height - KEY_MM - GAP_MM)

    @property
    def foot(self) -> Box:
        """The keys that are on every screen, under the words."""
        words = self.words
        return Box(words.left, words.top + words.height + GAP_MM, words.width, KEY_MM)

    @property
    def status(self) -> Box:
        """The status line."""
        return Box(0, self.panel.height_mm - STATUS_MM, self.panel.width_mm, STATUS_MM)


def has_figure(shown: Shown) -> bool:
    """True when the figure has its box: not while nothing is keyed and something that was said wants the room."""
    return shown.figure is not None and (bool(shown.figure) or not shown.told)


class Drawing:
    """One drawing of one screen."""

    def __init__(self, layout: Layout, speak: Speak, touch: Touch, *, is_right_to_left: bool = False) -> None:
        self._layout, self._speak, self._touch = layout, speak, touch
        self._panel = layout.panel
        self._is_rtl = is_right_to_left

    def screen(self, shown: Shown, choices: Sequence[Choice], status: Sequence[Said], *, is_bad: bool) -> ft.Control:
        """Return the whole screen."""
        if shown.is_apart:
            keys = self._apart(choices)
        elif shown.pad is not None:
            keys = self._pad(shown.pad)
        else:
            keys = self._choices(choices, shown.choices_a_page)
        parts = [*self._words(shown), *keys, *self._foot(shown), self._status(status, is_bad=is_bad)]
        return ft.Stack(parts, width=self._panel.width_px, height=self._panel.height_px, rtl=self._is_rtl)

    def cover(self, shown: Shown) -> ft.Control:
        """Return a screen without foot and status line: another page is live, it is wiped, or the kiosk is new."""
        keys = self._apart(shown.choices) if shown.is_apart else self._choices(shown.choices)
        return ft.Stack(
            [*self._words(shown), *keys], width=self._panel.width_px, height=self._panel.height_px, rtl=self._is_rtl
        )

    def _words(self, shown: Shown) -> list[ft.Control]:
        box = self._layout.words
        parts: list[ft.Control] = [self._text(shown.title, bold=True)]
        if has_figure(shown):
            parts.append(self._figure(shown))
        elif shown.count_words is not None:
            parts.append(self._text(shown.count_words))
        if shown.bar is not None:
            parts.append(self._bar(shown.bar, box.width))
        if shown.ruler is not None:
            parts.append(self._ruler(shown.ruler))
        parts += [self._told(one) for one in shown.told[: self.told_that_fit(shown)]]
        return [self._placed(ft.Column(parts, spacing=self._panel.px(SPACING_MM), tight=True), box)]

    def is_cut(self, shown: Shown) -> bool:
        """True when not all sentences find room."""
        return self.told_that_fit(shown) < len(shown.told)

    def told_that_fit(self, shown: Shown) -> int:
        """Return how many of the sentences find room; at least the first, which is the worst."""
        box, line = self._layout.words, TEXT_MM / CAPITAL_SHARE * LINE
        free = box.height - self._lines(shown.title, box.width) * line - SPACING_MM
        if has_figure(shown):
            free -= VALUE_MM / CAPITAL_SHARE * LINE + 2 * line + SPACING_MM
        elif shown.count_words is not None:
            free -= line + SPACING_MM
        if shown.bar is not None:
            free -= BAR_MM + line + SPACING_MM
        for place, one in enumerate(shown.told):
            is_plain = one.mark is Mark.PLAIN
            width_mm = box.width if is_plain else box.width - MARK_MM - 5
            lines = self._lines(one.words, width_mm, extra=len(self._prefix(one)))
            free -= lines * line + (0 if is_plain else 2) + SPACING_MM
            if free < 0:
                return max(1, place)
        return len(shown.told)

    def _lines(self, words: Said, width_mm: float, *, extra: int = 0) -> int:
        a_line = width_mm / (TEXT_MM / CAPITAL_SHARE * CHARACTER_SHARE)
        return -(-(len(self._speak(words)) + extra) // max(1, int(a_line)))

    def _figure(self, shown: Shown) -> ft.Control:
        # A real minus sign: as long as a figure is wide, where a hyphen is overlooked.
        keyed = (shown.figure or " ").replace("-", "\N{MINUS SIGN}")
        # Its own key while nothing is keyed: a text that was blank is not read out any more once it says something.
        figure = ft.Text(
            self._left_to_right(keyed), key="keyed" if shown.figure else "nothing keyed", no_wrap=True, rtl=False,
            style=self._style(COLOURS.ink, VALUE_MM, bold=True),
        )  # fmt: skip
        words = [one for one in (shown.figure_words, shown.count_words) if one is not None]
        return ft.Container(
            ft.Column([figure, ft.Row([self._text(one) for one in words], spacing=self._panel.px(8), wrap=True)],
                      spacing=0, tight=True),
            bgcolor=COLOURS.ground, border=ft.Border.all(self._panel.px(0.6), COLOURS.key_edge),
            padding=ft.Padding.symmetric(horizontal=self._panel.px(2)), width=self._panel.px(self._layout.words.width),
        )  # fmt: skip

    def _told(self, told: Told) -> ft.Control:
        ink, ground = MARK_COLOURS[told.mark]
        words = self._speak(told.words)
        if told.mark is Mark.PLAIN:
            return self._plain(words, ink)
        prefix = self._prefix(told)
        side = self._panel.px(MARK_MM)
        width = self._layout.words.width - MARK_MM - 2 - 3
        return ft.Container(
            ft.Row(
                [
                    cv.Canvas([_shape(told.mark, side)], width=side, height=side),
                    ft.Container(self._plain(prefix + words, ink), width=self._panel.px(width)),
                ],
                spacing=self._panel.px(2),
            ),
            bgcolor=ground, padding=self._panel.px(1), width=self._panel.px(self._layout.words.width),
        )  # fmt: skip

    def _prefix(self, told: Told) -> str:
        """Return the word of a mark where the sentence does not begin with it."""
        if told.mark is Mark.PLAIN or (told.mark is Mark.STOP and told.words.startswith(say("STOP"))):
            return ""
        return self._speak(_WORDS[told.mark]) + ". "

    def _bar(self, bar: Bar, width_mm: float) -> ft.Control:
        px, long = self._panel.px, width_mm - 4
        parts: list[ft.Control] = [
            ft.Container(bgcolor=COLOURS.key_edge, left=0, top=px(5), width=px(long), height=px(1)),
        ]
        for place, words in ((bar.lower, bar.lower_words), (bar.upper, bar.upper_words)):
            if place is not None:
                parts.append(
                    ft.Container(bgcolor=COLOURS.ink, left=px(long * place), top=0, width=px(1.2), height=px(11))
                )
                text = self._plain(self._left_to_right(words), COLOURS.ink)
                parts.append(ft.Container(text, left=px(long * place - 9), top=px(11)))
        parts.append(
            ft.Container(
                bgcolor=COLOURS.strong_key, left=px(long * bar.dot - 3), top=px(2.5), width=px(6), height=px(6),
                border_radius=px(3),
            )
        )  # fmt: skip
        return ft.Stack(parts, width=px(width_mm), height=px(BAR_MM + TEXT_MM * LINE / CAPITAL_SHARE))

    def _ruler(self, ruler: Ruler) -> ft.Control:
        px, long = self._panel.px, ruler.long_mm
        marks: list[ft.Control] = [
            ft.Container(bgcolor=COLOURS.ink, left=0, top=px(10), width=px(long), height=px(0.5)),
            *(
                ft.Container(bgcolor=COLOURS.ink, left=px(mm) - px(0.25), top=0, width=px(0.5), height=px(10.5))
                for mm in range(0, long + 1, 10)
            ),
        ]
        line = ft.Stack(marks, width=px(long + 1), height=px(11))
        return ft.Semantics(content=line, label=self._speak(say("{n} mm", n=long)), image=True)

    def _pad(self, pad: Pad) -> list[ft.Control]:
        box = self._layout.keys
        side = (box.width - 3 * GAP_MM - LAST_COLUMN_MM) / 3
        high = min((box.height - 3 * GAP_MM) / 4, side * 1.15)
        labels = {
            "-": say("UNDER") if pad is Pad.DIVISIONS else say("\N{MINUS SIGN}"),
            "+": say("OVER") if pad is Pad.DIVISIONS else say("+"),
            "keep": say("Keep"),
            "back one": say("\N{ERASE TO THE LEFT}"),
        }
        parts = []
        for row, keys in enumerate(PAD_ROWS):
            for column, key in enumerate(keys):
                if not key or (pad is Pad.NUMBER and key in "+-."):
                    continue
                rows = 2 if key == "keep" else 1
                place = Box(
                    box.left + column * (side + GAP_MM), box.top + row * (high + GAP_MM),
                    LAST_COLUMN_MM if column == 3 else side,
                    rows * high + (rows - 1) * GAP_MM,
                )  # fmt: skip
                label = labels.get(key)
                words = key if label is None else self._speak(label)
                name = self._speak(say("Take one back")) if key == "back one" else words
                size_mm = 10 if label is None or len(words) == 1 else TEXT_MM
                # A longer word stands in one line in lighter type; in two it would be cut in the middle.
                is_bold = key not in "+-" and len(words) <= BOLD_LETTERS
                face = Label(words, is_strong=key == "keep", name=name, capital_mm=size_mm, is_bold=is_bold)
                parts.append(self._key(face, key, place))
        return parts

    def _choices(self, choices: Sequence[Choice], a_page: int = 5) -> list[ft.Control]:
        box = self._layout.keys
        high = (box.height - (a_page - 1) * GAP_MM) / a_page
        return [
            self._key(
                Label(
                    self._speak(choice.words), is_strong=choice.is_strong, number=place + 1,
                    detail="" if choice.detail is None else self._speak(choice.detail), picture=choice.picture,
                ),
                f"pick {choice.act}", Box(box.left, box.top + place * (high + GAP_MM), box.width, high),
            )
            for place, choice in enumerate(choices)
        ]  # fmt: skip

    def _apart(self, choices: Sequence[Choice]) -> list[ft.Control]:
        box = self._layout.keys
        high = (box.height - 2 * KEY_MM) / 2
        return [
            self._key(Label(self._speak(choice.words), number=place + 1, capital_mm=10), f"pick {choice.act}",
                      Box(box.left, top, box.width, high))
            for place, (choice, top) in enumerate(zip(choices, (box.top, box.top + box.height - high), strict=True))
        ]  # fmt: skip

    def _foot(self, shown: Shown) -> list[ft.Control]:
        box = self._layout.foot
        wide = (box.width - 2 * GAP_MM) / 3
        is_cut = self.is_cut(shown)
        keys = [("pick dropped", say("I dropped it")), ("more", say("More"))]
        if shown.has_back:
            keys.append(("pick back", say("Back")))
        if is_cut:
            keys[1 if shown.has_back else 2 :] = [("read on", say("Read on")), *keys[2:]]
        return [
            self._key(Label(self._speak(words), is_bold=False), key,
                      Box(box.left + place * (wide + GAP_MM), box.top, wide, box.height))
            for place, (key, words) in enumerate(keys)
        ]  # fmt: skip

    def _status(self, status: Sequence[Said], *, is_bad: bool) -> ft.Control:
        words = "  \N{MIDDLE DOT}  ".join(self._speak(one) for one in status)
        ink, ground = (COLOURS.ink, COLOURS.look) if is_bad else (COLOURS.on_status, COLOURS.status)
        text = self._plain(words, ink)
        return self._placed(ft.Container(text, bgcolor=ground, padding=ft.Padding.symmetric(
            horizontal=self._panel.px(MARGIN_MM))), self._layout.status)  # fmt: skip

    def _key(self, label: Label, key: str, box: Box) -> ft.Control:
        ink, ground = (COLOURS.on_strong, COLOURS.strong_key) if label.is_strong else (COLOURS.ink, COLOURS.key)
        face = ft.Container(
            self._face(label, ink), bgcolor=ground, alignment=ft.Alignment.CENTER, border_radius=self._panel.px(2),
            border=ft.Border.all(self._panel.px(0.5), COLOURS.key_edge),
            padding=ft.Padding.symmetric(horizontal=self._panel.px(0.5 if label.number is None else 4)),
            width=self._panel.px(box.width), height=self._panel.px(box.height),
        )  # fmt: skip
        detector = ft.GestureDetector(
            face, on_tap_down=lambda _: self._touch(key), mouse_cursor=ft.MouseCursor.CLICK, exclude_from_semantics=True
        )
        name = " ".join(part for part in (label.name or label.words, label.detail) if part)
        named = ft.Semantics(content=detector, label=name, button=True, exclude_semantics=True, container=True)
        return self._placed(named, box)

    def _face(self, label: Label, ink: str) -> ft.Control:
        words = ft.Text(
            label.words, style=self._style(ink, label.capital_mm, bold=label.is_bold), rtl=self._is_rtl,
            text_align=ft.TextAlign.CENTER if label.number is None else ft.TextAlign.START,
            overflow=ft.TextOverflow.ELLIPSIS, max_lines=2,
        )  # fmt: skip
        if label.number is None:
            return words
        lines: list[ft.Control] = [words]
        if label.detail:
            lines.append(self._plain(label.detail, ink))
        number = ft.Text(str(label.number), style=self._style(ink, TEXT_MM))
        column = ft.Column(lines, spacing=0, tight=True, expand=True)
        of_gauge = () if label.picture is None else (picture(label.picture, self._panel.px(PICTURE_MM), ink),)
        return ft.Row([number, *of_gauge, column], spacing=self._panel.px(4), rtl=self._is_rtl)

    def _placed(self, control: ft.Control, box: Box) -> ft.Control:
        px = self._panel.px
        return ft.Container(control, left=px(box.left), top=px(box.top), width=px(box.width), height=px(box.height))

    def _left_to_right(self, figure: str) -> str:
        """Return a figure marked to be read from left to right, whatever the language around it."""
        return f"\u202a{figure}\u202c" if self._is_rtl and figure.strip() else figure

    def _text(self, words: Said, *, bold: bool = False) -> ft.Control:
        return self._plain(self._speak(words), COLOURS.ink, bold=bold)

    def _plain(self, words: str, ink: str, *, bold: bool = False) -> ft.Control:
        return ft.Text(words, style=self._style(ink, TEXT_MM, bold=bold), rtl=self._is_rtl)

    def _style(self, ink: str, capital_mm: float, *, bold: bool = False) -> ft.TextStyle:
        return ft.TextStyle(
            size=self._panel.type_px(capital_mm), color=ink, height=LINE, letter_spacing=0,
            weight=ft.FontWeight.W_700 if bold else ft.FontWeight.W_400,
        )  # fmt: skip


_WORDS: Final = {Mark.STOP: say("STOP"), Mark.LOOK: say("LOOK"), Mark.OK: say("OK")}
_CORNERS: Final = {
    Mark.STOP: ((0.3, 0), (0.7, 0), (1, 0.3), (1, 0.7), (0.7, 1), (0.3, 1), (0, 0.7), (0, 0.3)),
    Mark.LOOK: ((0.5, 0), (1, 1), (0, 1)),
}


def _shape(mark: Mark, side: float) -> cv.Shape:
    """Return the octagon of STOP, the triangle of LOOK or the round of OK."""
    ink = MARK_COLOURS[mark][0]
    paint = ft.Paint(color=ink, style=ft.PaintingStyle.FILL)
    if mark is Mark.OK:
        return cv.Circle(side / 2, side / 2, side / 2, paint=paint)
    first, *rest = _CORNERS[mark]
    path: list[cv.Path.PathElement] = [cv.Path.MoveTo(first[0] * side, first[1] * side)]
    path += [cv.Path.LineTo(x * side, y * side) for x, y in rest]
    return cv.Path([*path, cv.Path.Close()], paint=paint)
