"""Zero check and day check of a gauge; and the gauge that was dropped."""

from collections.abc import Callable
from typing import Final, cast

from kiosk.acts.door import number_in
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told, gauge_choice
from kiosk.acts.steps import Screen, Steps
from kiosk.pages.readings import Check
from kiosk.pages.words import CheckVerdict, GaugeIncidentKind, KeyedAs, Source
from kiosk.station import Done, Movement, Said, say


class CheckScreen(Screen):
    """One gauge is checked on its master or block; `then` is where a good check leads."""

    def __init__(self, steps: Steps, gauge: str, then: Callable[[], None]) -> None:
        super().__init__(steps)
        self._gauge, self._then = gauge, then

    @property
    def gauge(self) -> str:
        """The number of the gauge that is checked."""
        return self._gauge

    def shown(self) -> Shown:
        """Ask what the gauge shows on its master or block."""
        known = self.work.gauge(self._gauge)
        is_day = known is not None and known.kind.needs_day_check
        master = "" if known is None or known.master is None else known.master
        title = (
            say("Day check: what does {gauge} show on {master}?", gauge=self._gauge, master=master or "0")
            if is_day
            else say("Zero check: what does {gauge} show on {master}?", gauge=self._gauge, master=master)
        )
        unit = "" if known is None else known.unit or ""
        in_divisions = known is not None and known.least_count is not None and not is_day
        return Shown(
            title=title, told=self.steps.told, pad=Pad.DIVISIONS if in_divisions else Pad.FIGURE,
            figure=self.steps.figure,
            figure_words=say("divisions from zero") if in_divisions else say("{unit}", unit=unit),
        )  # fmt: skip

    def keep(self, keyed: str) -> None:
        """Keep the check and go on where it is good."""
        known = self.work.gauge(self._gauge)
        if not self.steps.typed:
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
            return
        if known is not None and known.kind.needs_day_check:
            done = self.work.check_day(self._gauge, keyed)
        else:
            in_divisions = known is not None and known.least_count is not None
            if in_divisions and not self.steps.sign and self.steps.typed.strip("0."):
                self.steps.say(Told(say("OVER or UNDER? Press one, then Keep."), Mark.LOOK))
                return
            done = self.work.check_zero(
                self._gauge, keyed, keyed_as=KeyedAs.DIVISIONS if in_divisions else KeyedAs.DEVIATION
            )
        self._checked(done)

    def indicated(self, figure: str, keyed_as: KeyedAs) -> None:
        """Take what the gauge itself sent, exactly as received."""
        known = self.work.gauge(self._gauge)
        if known is not None and known.kind.needs_day_check:
            done = self.work.check_day(self._gauge, figure, source=Source.INSTRUMENT)
        else:
            done = self.work.check_zero(self._gauge, figure, keyed_as=keyed_as, source=Source.INSTRUMENT)
        self._checked(done)

    def _checked(self, done: Done) -> None:
        """Go on where the check is good."""
        self.steps.wipe_figure()
        act = done.page.act
        if isinstance(act, Check) and act.verdict is CheckVerdict.GOOD:
            self.steps.done(done)
            self.steps.say(*(Told(one, Mark.OK) for one in done.say))
            self._then()
            return
        self.steps.done(done)

    def pick(self, act: str) -> None:
        """Go back without a check."""
        self.steps.told = ()
        self.steps.home()


class WhichGauge(Screen):
    """A gauge is named: scanned, or picked among those kept here."""

    def __init__(self, steps: Steps, title: str, then: Callable[[str], None]) -> None:
        super().__init__(steps)
        self._title, self._then = title, then

    def shown(self) -> Shown:
        """Offer the gauges in hand first, then those kept here."""
        titles = {
            "dropped": say("Which gauge was dropped or knocked?"),
            "check": say("Which gauge is checked?"),
        }
        in_hand = [taken.gauge for taken in self.state.gauges]
        here = [one.number for one in self.work.gauges_here() if one.number not in in_hand]
        known = {one.number: gauge_choice(one) for one in self.lists.gauges}
        return Shown(
            title=titles[self._title],
            told=self.steps.told,
            choices=tuple(
                known.get(one) or Choice(say("{number}", number=one), one) for one in dict.fromkeys((*in_hand, *here))
            ),
        )

    def pick(self, act: str) -> None:
        """Take the gauge named."""
        if act == "back":
            self.steps.told = ()
            self.steps.home()
            return
        self._then(act)

    def scan(self, code: str) -> bool:
        """Take the gauge scanned."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._then(number_in(code, (one.number for one in self.lists.gauges)))
        return True


class Dropped(Screen):
    """A gauge was reported; what is to be done with it."""

    def shown(self) -> Shown:
        """Thank, and say where the swap is."""
        return Shown(
            title=say("Reported. Nobody is blamed."), told=self.steps.told,
            choices=(Choice(say("Go on"), "home", is_strong=True),), has_back=False,
        )  # fmt: skip


def report_dropped(steps: Steps, gauge: str | None = None) -> None:
    """Report in one tap that the gauge in hand was dropped; ask which where it cannot be known."""
    in_hand = tuple(dict.fromkeys(taken.gauge for taken in steps.work.state.gauges))
    number = gauge or (in_hand[0] if len(in_hand) == 1 else None)
    if number is None:
        steps.told = ()
        steps.go(WhichGauge(steps, "dropped", lambda picked: report_dropped(steps, picked)))
        return
    done = steps.work.report_incident(number, GaugeIncidentKind.DROPPED)
    steps.done(done)
    thanks, *rest = done.say
    steps.say(Told(thanks, Mark.OK), *(Told(one) for one in rest))
    steps.go(Dropped(steps))


def check_any(steps: Steps) -> None:
    """Ask which gauge is checked, then check it."""
    steps.go(WhichGauge(steps, "check", lambda picked: steps.go(CheckScreen(steps, picked, steps.home))))


NEWS: Final[dict[str, Said]] = {
    "not found": say("I do not have it"),
    "issued": say("Issued to this station"),
    "borrowed": say("Borrowed from another station"),
    "returned": say("Given back"),
    "found": say("Found again"),
    "wet inside": say("It is wet inside"),
    "sticks": say("It sticks"),
    "knocked": say("It was knocked"),
    "doubtful": say("I doubt it"),
}
"""The first five are where it is, the others what befell it."""


class GaugeNews(Screen):
    """Where a gauge is, or what befell it; nobody is blamed."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._gauge = ""

    def shown(self) -> Shown:
        """Ask which gauge, then what there is to tell."""
        if self._gauge:
            return Shown(title=say("{gauge}: what is it?", gauge=self._gauge),
                         choices=tuple(Choice(words, act) for act, words in NEWS.items()))  # fmt: skip
        return Shown(
            title=say("Something about a gauge: which one?"), told=self.steps.told,
            choices=tuple(gauge_choice(one) for one in self.work.gauges_here()),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Take the gauge, then keep what is told of it."""
        if act == "back":
            self.steps.told = ()
            self.steps.home()
        elif not self._gauge:
            self._gauge, self.steps.page = act, 0
        elif act in ("not found", "issued", "borrowed", "returned", "found"):
            here = self.work.number if act in ("issued", "borrowed") else None
            self.steps.done(self.work.move_gauge(self._gauge, cast(Movement, act), to_station=here))
            self.steps.say(Told(say("{gauge}: noted.", gauge=self._gauge), Mark.OK))
            self.steps.home()
        else:
            done = self.work.report_incident(self._gauge, GaugeIncidentKind(act))
            self.steps.done(done)
            self.steps.go(Dropped(self.steps))

    def scan(self, code: str) -> bool:
        """Take the gauge scanned."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._gauge, self.steps.page = number_in(code, (one.number for one in self.lists.gauges)), 0
        return True
