"""A gauge study at the station: ordered by its leader, measured by its appraisers without seeing which piece it is."""

from typing import Final

from kiosk.acts.door import name_of, number_in
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told, gauge_choice
from kiosk.acts.steps import Screen, Steps
from kiosk.judge import limits_in
from kiosk.lists import Characteristic
from kiosk.pages.studies import GaugeStudyOrder
from kiosk.station import Study, say

USUAL: Final = ((10, 3), (10, 2), (5, 3))
"""Pieces and rounds that are usual (common practice, no source: three people, ten pieces, three rounds)."""


class StudyScreen(Screen):
    """Which study, or a new one."""

    def shown(self) -> Shown:
        """Offer the studies open here."""
        studies = tuple(
            Choice(say("{study}: {gauge}", study=one.number, gauge=one.gauge), one.number,
                   detail=say("{got} of {planned} measured", got=len(one.taken), planned=len(one.turns)))
            for one in self.state.studies
        )  # fmt: skip
        new = Choice(say("Begin a gauge study"), "new")
        return Shown(title=say("Gauge study"), told=self.steps.told, choices=(*studies, new))

    def pick(self, act: str) -> None:
        """Go to the study."""
        self.steps.told = ()
        if act == "back":
            self.steps.home()
        elif act == "new":
            self.steps.go(Ordering(self.steps))
        else:
            go_study(self.steps, act)


def go_study(steps: Steps, number: str) -> None:
    """Put up the study as this person may see it: its leader the trays, an appraiser his places."""
    found = next(one for one in steps.work.state.studies if one.number == number)
    steps.go(Leading(steps, found) if found.leader == steps.work.state.person else Appraising(steps, found))


class Ordering(Screen):
    """A study is ordered: gauge, pieces and rounds, appraisers; whoever is badged in leads it."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._gauge = ""
        self._what: Characteristic | None = None
        self._size: tuple[int, int] | None = None
        self._appraisers: list[str] = []

    def shown(self) -> Shown:
        """Ask for what is missing."""
        if not self._gauge:
            return Shown(
                title=say("Gauge study: scan the gauge."), told=self.steps.told,
                choices=tuple(gauge_choice(one) for one in self.work.gauges_here()),
            )  # fmt: skip
        if self._what is None:
            return Shown(
                title=say("{gauge}: what is measured?", gauge=self._gauge), told=self.steps.told,
                choices=tuple(
                    Choice(say("{number} {name}", number=one.number, name=one.name), f"{one.part} {one.number}")
                    for one in self._measured()
                ),
            )  # fmt: skip
        if self._size is None:
            return Shown(
                title=say("{gauge}: how many pieces, how often?", gauge=self._gauge), told=self.steps.told,
                choices=tuple(
                    Choice(say("{pieces} pieces, {trials} rounds", pieces=pieces, trials=trials), f"{pieces}x{trials}")
                    for pieces, trials in USUAL
                ),
            )  # fmt: skip
        names = ", ".join(name_of(self.steps, one) for one in self._appraisers)
        enough = (Choice(say("Begin the study"), "begin", is_strong=True),) if len(self._appraisers) > 1 else ()
        return Shown(
            title=say("Scan the badge of each person who measures."),
            told=(*self.steps.told, *((Told(say("So far: {names}.", names=names)),) if names else ())),
            choices=enough,
        )

    def pick(self, act: str) -> None:
        """Take the answer to the question that is up."""
        if act == "back":
            self.steps.told = ()
            self.steps.go(StudyScreen(self.steps))
        elif not self._gauge:
            self._gauge = act
        elif self._what is None:
            self._what = next(one for one in self._measured() if f"{one.part} {one.number}" == act)
            self.steps.page = 0
        elif self._size is None:
            pieces, trials = act.split("x")
            self._size = int(pieces), int(trials)
        else:
            self._begin(*self._size)

    def scan(self, code: str) -> bool:
        """Take the gauge, then the badges: here a badge names an appraiser, it does not take over."""
        person = next((one.number for one in self.lists.people if code in one.badges), None)
        if self._size is None:
            if person is not None:
                return False
            self._gauge = number_in(code, (one.number for one in self.lists.gauges))
            return True
        if person is None:
            return False
        if person not in self._appraisers:
            self._appraisers.append(person)
        return True

    def _measured(self) -> tuple[Characteristic, ...]:
        known = self.work.gauge(self._gauge)
        if known is None:
            return ()
        rows = {(one.part, one.number): one for one in self.lists.characteristics if known.kind in one.gauge_kinds}
        return tuple(rows.values())

    def _begin(self, pieces: int, trials: int) -> None:
        known, what = self.work.gauge(self._gauge), self._what
        assert what is not None
        limits = limits_in(what, what.unit)
        tolerance = None if limits is None else limits.tolerance
        # The page that keeps it gives the study its number: no other study of this station has it.
        number = f"GS-{self.work.number}-{self.state.last_page + 1}"
        order = GaugeStudyOrder(
            study=number, gauge=self._gauge, characteristic=f"{what.part}:{what.number}",
            tolerance=None if tolerance is None else str(tolerance),
            unit=(None if known is None else known.unit) or what.unit,
            pieces=tuple(f"P{place}" for place in range(1, pieces + 1)),
            appraisers=tuple(self._appraisers), trials=trials,
        )  # fmt: skip
        self.steps.done(self.work.order_study(order))
        go_study(self.steps, number)


class Leading(Screen):
    """The leader lays the tray by the card of each round, and ends the study."""

    def __init__(self, steps: Steps, study: Study) -> None:
        super().__init__(steps)
        self._study, self._trial = study, 0

    def shown(self) -> Shown:
        """Offer the card of each round; only the leader sees it."""
        number = self._study.number
        if self._trial:
            card = self.work.study_tray(number, self._trial)
            lines = ("  ".join(f"{place}: {piece}" for place, piece in card[i : i + 5]) for i in range(0, len(card), 5))
            told = tuple(Told(say("{words}", words=line)) for line in lines)
            return Shown(title=say("Round {trial}: piece by place", trial=self._trial), told=told)
        rounds = tuple(
            Choice(say("Card of round {trial}", trial=trial), f"card {trial}")
            for trial in range(1, self._study.trials + 1)
        )
        return Shown(
            title=say("Gauge study {study}", study=number), told=self.steps.told,
            choices=(*rounds, Choice(say("End the study"), "end")),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Show a card, or end the study."""
        if act.startswith("card "):
            self._trial = int(act.removeprefix("card "))
        elif act == "end":
            known = next(one for one in self.state.studies if one.number == self._study.number)
            is_short = len(known.taken) < len(known.turns)
            why = "ended by its leader" if is_short else None
            self.steps.done(self.work.end_study(self._study.number, why_short=why))
            self.steps.home()
        elif self._trial:
            self._trial = 0
        else:
            self.steps.told = ()
            self.steps.go(StudyScreen(self.steps))


class Appraising(Screen):
    """An appraiser measures the piece that lies at a place; which one it is, and every earlier figure, stay hidden."""

    def __init__(self, steps: Steps, study: Study) -> None:
        super().__init__(steps)
        self._study = study
        self._gauge = ""

    def shown(self) -> Shown:
        """Ask for the gauge, then place by place."""
        if not self._gauge:
            return Shown(title=say("Gauge study {study}: scan the gauge.", study=self._study.number),
                         told=self.steps.told)  # fmt: skip
        turn = self.work.study_turn(self._study.number)
        if turn is None:
            return Shown(title=say("All your pieces are measured. Thank you."), told=self.steps.told)
        return Shown(
            title=say("Round {trial}: the piece at place {place}.", trial=turn.trial, place=turn.place),
            told=self.steps.told, pad=Pad.FIGURE, figure=self.steps.figure,
            figure_words=say("{unit}", unit=self._study.unit),
        )  # fmt: skip

    def keep(self, keyed: str) -> None:
        """Keep what the gauge shows."""
        if not self.steps.typed:
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
            return
        done = self.work.key_study(self._study.number, keyed, gauge=self._gauge)
        self.steps.wipe_figure()
        self.steps.done(done)
        self.steps.say(*(Told(one, Mark.OK) for one in done.say))

    def pick(self, act: str) -> None:
        """Go back; what is measured stays."""
        self.steps.told = ()
        self.steps.go(StudyScreen(self.steps))

    def scan(self, code: str) -> bool:
        """Take the gauge; a badge is left to whoever asks for badges."""
        if any(code in one.badges for one in self.lists.people):
            return False
        # The turn is asked for first, so that somebody who measures nothing here is told before he scans in vain.
        self.work.study_turn(self._study.number)
        self._gauge = number_in(code, (one.number for one in self.lists.gauges))
        return True
