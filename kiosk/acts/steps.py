"""From key stroke to station and on to the next screen; without anything drawn.

Owns which screen is up, what is keyed so far and what was said last.
Holds no rule of the trade: a screen asks the station and shows its answer.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Protocol

from kiosk.acts.shown import Bar, Choice, Mark, Shown, Told, told_of
from kiosk.errors import Damaged, NotKept, TellingError
from kiosk.lists import Lists, Person
from kiosk.pages import Act, Signature
from kiosk.ports import Clock
from kiosk.settings import Settings
from kiosk.station import Done, Paper, Said, State, Station, say

FIGURE_LIMIT: Final = 12
"""Most characters on a pad; the longest figure of the trade, a count of cycles, has eight."""


class Screen:
    """One screen. What it shows is made afresh each time; a key, a scan or a tap is handed to it."""

    def __init__(self, steps: "Steps") -> None:
        self.steps = steps

    @property
    def work(self) -> Station:
        """The station."""
        return self.steps.work

    @property
    def state(self) -> State:
        """Where the work stands."""
        return self.steps.work.state

    @property
    def lists(self) -> Lists:
        """The station's lists."""
        return self.steps.work.lists

    @property
    def before(self) -> "Screen":
        """The screen to come back to after something else; itself, but for a screen that only offers others."""
        return self

    def shown(self) -> Shown:
        """Return what is on the screen."""
        raise NotImplementedError

    def pick(self, act: str) -> None:
        """Take a choice."""

    def keep(self, keyed: str) -> None:
        """Take what was keyed on the pad."""

    def aside(self) -> tuple[Choice, ...]:
        """Return what this screen offers under More."""
        return ()

    def scan(self, code: str) -> bool:
        """Take a scanned code; False when it is none for this screen."""
        return False


@dataclass(frozen=True)
class Wanted:
    """One piece that is to be measured again; its earlier value is nowhere in it."""

    of: str
    """Page of the reading that is measured again."""
    lot: str
    characteristic: str
    piece: int | None
    words: str


@dataclass(frozen=True)
class Note:
    """One message of the QC room; `page` is its page in the desk's book."""

    page: str
    words: str


class Signer(Protocol):
    """Checks PINs, and signs for who keyed his own."""

    def check(self, person: str, pin: str) -> None:
        """Return when the PIN is the person's.

        Raises:
            SignatureRefused: it is not, it is locked, or none is known here.
        """
        ...

    def sign(self, act: Act, person: Person, sentence: str, role: str) -> Signature:
        """Return the signature of a person, in a role, under an act that is kept next."""
        ...


@dataclass(frozen=True)
class Ways:
    """Where one gets from any screen: the screen the work asks for, other acts, a dropped gauge, a badge.

    `hub` is the choice of what is measured, `gauge` the question for the gauge of one characteristic, `measure` the
    next step of measuring it.
    """

    first: "Callable[[Steps], Screen]"
    more: "Callable[[Steps], Screen]"
    dropped: "Callable[[Steps], None]"
    badge: "Callable[[Steps, str], None]"
    hub: "Callable[[Steps], Screen]"
    gauge: "Callable[[Steps, str], Screen]"
    measure: "Callable[[Steps, str], None]"


class Steps:
    """The screens of one kiosk and the way from one to the next."""

    def __init__(self, work: Station, clock: Clock, ways: "Ways", settings: Settings) -> None:
        self.work = work
        self.settings = settings
        self.typed = ""
        self.sign = ""
        self.told: tuple[Told, ...] = ()
        self.bar: Bar | None = None
        self._papers: dict[tuple[str, str, str, int], Paper] = {}
        self.page = 0
        self.carry_by_stick: Callable[[], tuple[Said, ...]] | None = None
        """Carries by the stick in the socket and tells what was done; none where no socket is set."""
        self.series = ""
        """The series of this kiosk's book."""
        self.orders: tuple[Wanted, ...] = ()
        """Blind re-measures that the QC room asked of this station and that were not done here yet."""
        self.re_measured: set[str] = set()
        """Pages of readings that were measured again here."""
        self.messages: tuple[Note, ...] = ()
        """What the QC room told this station."""
        self._read: set[tuple[str | None, str]] = set()
        self._reminded: set[tuple[datetime | None, str]] = set()
        self.signer: Signer | None = None
        """Checks a PIN and makes a signature; none where no PINs are known."""
        self.ask_gauge: Callable[[str], bool] = lambda _: False
        """Asks a plugged-in gauge for its value; False for one that cannot be asked."""
        self.acceptance: Callable[[Steps], Screen] | None = None
        """The screen of the acceptance run; none where there is no book on a disk to read it from."""
        self.guide: Callable[[], Said | None] = lambda: None
        """What the acceptance run asks for next; none while there is none."""
        self.flash: Mark | None = None
        """The mark of something just said that the edge of the screen flashes for; taken by `take_flash`."""
        self._clock = clock
        self._ways = ways
        self._deaf_until_ms = 0
        self._wiping_until_ms = 0
        self.screen: Screen = ways.first(self)

    def go(self, screen: Screen) -> None:
        """Put up another screen; what was keyed is gone, what was said stays until the next act."""
        self.screen, self.page = screen, 0
        self.wipe_figure()

    def home(self) -> None:
        """Put up the screen that the state of the work asks for."""
        self.go(self._ways.first(self))

    def hub(self) -> None:
        """Put up the choice of what is measured."""
        self.go(self._ways.hub(self))

    def gauge_screen(self, what: str) -> Screen:
        """Return the screen that asks for the gauge of a characteristic."""
        return self._ways.gauge(self, what)

    def measure(self, what: str) -> None:
        """Go to the next step of measuring a characteristic."""
        self._ways.measure(self, what)

    def now(self) -> datetime:
        """Return what this kiosk's clock shows."""
        return self._clock.now()

    def keyed_from(self, what: str, paper: Paper | None) -> None:
        """Note that the sample just begun is keyed from a form; none: it is measured now."""
        sample = self.work.state.sample_of(what)
        if sample is None:
            return
        place = (sample.lot, sample.operation, what, sample.number)
        self._papers.pop(place, None)
        if paper is not None:
            self._papers[place] = paper

    def paper_of(self, what: str) -> Paper | None:
        """Return the form that the open sample is keyed from; after a power cut its pages say it."""
        sample = self.work.state.sample_of(what)
        if sample is None:
            return None
        if sample.pieces:
            return sample.pieces[-1].paper
        return self._papers.get((sample.lot, sample.operation, what, sample.number))

    def wipe_figure(self) -> None:
        """Forget what is keyed so far."""
        self.typed, self.sign = "", ""

    def say(self, *told: Told) -> None:
        """Put sentences on the screen in place of those before, and of the bar that went with them."""
        self.told, self.bar = told, None
        marks = [one.mark for one in told]
        self.flash = Mark.STOP if Mark.STOP in marks else Mark.LOOK if Mark.LOOK in marks else None

    def done(self, done: Done, *first: Told) -> None:
        """Say what the station answered to an act that was kept, and be deaf for a moment to a second tap."""
        self.say(*first, *told_of(done.say))
        self._deaf_until_ms = self._clock.running_ms() + self.settings.screen_settle_ms

    def unread(self) -> tuple[Told, ...]:
        """Return the messages that the person badged in was not told here yet; from now on they count as told."""
        person = self.work.state.person
        new = [note for note in self.messages if (person, note.page) not in self._read]
        self._read |= {(person, note.page) for note in new}
        return tuple(Told(say("From the QC room: {words}", words=note.words), Mark.LOOK) for note in new)

    def remind(self) -> bool:
        """Say what time itself wants said, a gauge about to go out or a badge to be tapped, once; True when it did.

        Nothing is said over a figure that is half keyed or over a STOP; it is said as soon as there is room.
        """
        since = self.work.state.badged_at
        new = [one for one in self.work.reminders() if (since, str(one)) not in self._reminded]
        if not new or self.figure or any(one.mark is Mark.STOP for one in self.told):
            return False
        self._reminded |= {(since, str(one)) for one in new}
        bar = self.bar
        self.say(*(Told(one, Mark.LOOK) for one in new), *self.told)
        self.bar = bar
        return True

    def measured_again(self, of: str) -> None:
        """Take an order off the list once its piece was measured."""
        self.re_measured.add(of)
        self.orders = tuple(one for one in self.orders if one.of != of)

    @property
    def shown(self) -> Shown:
        """What is on the screen now."""
        return self.screen.shown()

    @property
    def figure(self) -> str:
        """What is keyed so far, with its sign."""
        return self.sign + self.typed

    @property
    def wipe_left_s(self) -> int:
        """Seconds for which touch is still ignored; 0 when it is not."""
        return max(0, -(-(self._wiping_until_ms - self._clock.running_ms()) // 1000))

    def wipe(self) -> None:
        """Ignore touch while the screen is wiped."""
        self._wiping_until_ms = self._clock.running_ms() + self.settings.screen_wipe_s * 1000

    def take_flash(self) -> Mark | None:
        """Return what the edge is to flash for, once."""
        flash, self.flash = self.flash, None
        return flash

    def touch(self, key: str) -> None:
        """Take a touch: the same as a key, but not while the screen is wiped or something was just kept."""
        now_ms = self._clock.running_ms()
        if self.wipe_left_s == 0 and now_ms >= self._deaf_until_ms:
            self.press(key)

    def press(self, key: str) -> None:
        """Take one key: a digit, `.`, `+`, `-`, `back one`, `keep`, `back`, or `pick …` for a choice."""
        self._guarded(lambda: self._press(key))

    def scan(self, code: str) -> None:
        """Take a scanned code, whatever screen is up."""
        self._guarded(lambda: self._scan(code))

    def cut_short(self, code: str) -> None:
        """Say that only part of a code came; it is never taken for a code or for digits."""
        self.say(Told(say("Only a part of a code came: {code}. Scan it again.", code=code), Mark.LOOK))

    def choices(self) -> tuple[Choice, ...]:
        """Return the choices of the page that is up, with a last one for the next page where there are more."""
        shown = self.shown
        if len(shown.choices) <= shown.choices_a_page:
            return shown.choices
        size = shown.choices_a_page - 1
        page = shown.choices[self.page * size : (self.page + 1) * size]
        is_last = (self.page + 1) * size >= len(shown.choices)
        return (*page, Choice(say("The first ones again") if is_last else say("More of these"), "next page"))

    def take(self, act: Callable[[], None]) -> None:
        """Do what came from a plugged-in gauge, guarded as a key is."""
        self._guarded(act)

    def _press(self, key: str) -> None:
        shown = self.shown
        if key.startswith("pick "):
            self._pick(key.removeprefix("pick "))
        elif key == "more":
            self._pick("more")
        elif key == "read on":
            self.told = self.told[1:]
        elif shown.pad is not None:
            self._on_pad(key)
        elif key.isdecimal():
            choices = self.choices()
            if 0 < int(key) <= len(choices):
                self._pick(choices[int(key) - 1].act)
        elif key == "keep" and len(shown.choices) == 1:
            self._pick(shown.choices[0].act)
        elif key == "back one" and shown.has_back:
            self._pick("back")

    def _on_pad(self, key: str) -> None:
        if key in ("+", "-"):
            self._begin_figure()
            self.sign = "" if key == "+" and self.sign == "+" else key
        elif key == "back one":
            self.typed, self.sign = (self.typed[:-1], self.sign) if self.typed else ("", "")
        elif key == "keep":
            self.screen.keep(self.figure)
        elif (key.isdecimal() or key == ".") and len(self.typed) < FIGURE_LIMIT:
            self._begin_figure()
            self.typed += key

    def _begin_figure(self) -> None:
        """Take away what was said of the piece before when the next figure is begun."""
        if not self.figure:
            self.told, self.bar = (), None

    def _pick(self, act: str) -> None:
        if act == "next page":
            shown = self.shown
            self.page = (self.page + 1) % -(-len(shown.choices) // (shown.choices_a_page - 1))
            return
        if act == "home":
            self.told, self.bar = (), None
            self.home()
            return
        if act == "dropped":
            self.bar = None
            self._ways.dropped(self)
            return
        if act == "more":
            self.told, self.bar = (), None
            self.go(self._ways.more(self))
            return
        self.screen.pick(act)

    def _scan(self, code: str) -> None:
        if self.screen.scan(code):
            return
        if any(code in one.badges for one in self.work.lists.people):
            self._ways.badge(self, code)
            return
        self.say(Told(say("{code} is not asked for on this screen.", code=code), Mark.LOOK))

    def _guarded(self, act: Callable[[], None]) -> None:
        """Do an act; what could not be done is said with why and the next step, and nothing pretends to be kept."""
        try:
            act()
        except TellingError as error:
            self.say(
                Told(_said(error.what), Mark.STOP if isinstance(error, Damaged | NotKept) else _weight(error.what)),
                Told(_said(error.why)),
                Told(_said(error.next_step)),
            )


def _said(words: str) -> Said:
    return words if isinstance(words, Said) else say("{words}", words=words)


def _weight(words: str) -> Mark:
    return Mark.STOP if words.startswith("STOP") else Mark.LOOK
