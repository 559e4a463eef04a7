"""A piece is answered: a figure on the pad, accept or reject, quarter turns; and what was kept is shown."""

from decimal import Decimal

from kiosk.acts.door import number_in
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told, bar_of, mark_of, told_of
from kiosk.acts.steps import Screen, Steps
from kiosk.errors import GaugeAskedAgain
from kiosk.judge import HeatNote
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature, GaugeKind
from kiosk.pages.readings import Reading
from kiosk.pages.words import KeyedAs, Verdict
from kiosk.station import Entry, KeptReading, LookAgain, Paper, Said, say, say_count, usual_way


def progress(screen: Screen, what: str) -> Said:
    """Return how far the open sample of a characteristic is."""
    sample = screen.state.sample_of(what)
    if sample is None:
        return say("no sample open")
    if sample.got >= sample.planned:
        return say("all {planned} done", planned=sample.planned)
    return say(
        "{got} of {planned} done \N{EN DASH} piece {piece} next", got=sample.got, planned=sample.planned,
        piece=sample.next_piece,
    )  # fmt: skip


def piece_screen(steps: Steps, what: str) -> Screen:
    """Return the screen on which the next piece of a characteristic is keyed."""
    known = next(one for one in steps.work.characteristics() if one.number == what)
    screens: dict[KeyedAs, type[Measured]] = {KeyedAs.ACCEPT_REJECT: AcceptReject, KeyedAs.TURNS: Turns}
    return screens.get(usual_way(known), Piece)(steps, known)


class Measured(Screen):
    """What every screen shares on which a piece is answered."""

    def __init__(self, steps: Steps, what: Characteristic) -> None:
        super().__init__(steps)
        self.what = what
        self.heat = HeatNote()
        """Temperatures that go with the readings of this sample."""
        self.anew: int | None = None
        """The piece that is keyed anew, unasked."""

    @property
    def paper(self) -> Paper | None:
        """The form that this sample is keyed from; none: it is measured now."""
        return self.steps.paper_of(self.what.number)

    @property
    def title(self) -> Said:
        """What is measured, with what, on which piece, and from which form."""
        paper, title = self.paper, self._title
        return title if paper is None else say("Form {form}. {title}", form=paper.form, title=title)

    @property
    def _title(self) -> Said:
        sample, taken = self.state.sample_of(self.what.number), self.state.gauge_for(self.what.number)
        piece = self.anew or (sample.next_piece if sample is not None else 1)
        return say(
            "{name}. Piece {piece}. {gauge}",
            name=self.what.name,
            piece=piece,
            gauge="" if taken is None else taken.gauge,
        )

    @property
    def told(self) -> tuple[Told, ...]:
        """What was said last, or what is to be known before a piece is measured."""
        if self.steps.told:
            return self.steps.told
        guide = self.steps.guide()
        if guide is not None:
            return (Told(guide, Mark.LOOK),)
        taken = self.state.gauge_for(self.what.number)
        gauge = None if taken is None else self.work.gauge(taken.gauge)
        if gauge is not None and gauge.kind is GaugeKind.TEST_FRAME:
            return (Told(say("Eye protection on, shield closed, nobody inside the guard."), Mark.LOOK),)
        if self.what.is_heated:
            return (Told(say("Measured hot is measured wrong. Hot parts burn: tongs and heat gloves."), Mark.LOOK),)
        return ()

    @property
    def is_full(self) -> bool:
        """True when the sample is all in."""
        sample = self.state.sample_of(self.what.number)
        return sample is not None and sample.got >= sample.planned and self.anew is None

    def full(self) -> Shown:
        """Return the screen after the last piece."""
        return Shown(
            title=say("{name}. Sample all in.", name=self.what.name),
            told=self.steps.told,
            bar=self.steps.bar,
            choices=(
                Choice(say("End the sample"), "end", is_strong=True),
                Choice(say("I keyed it wrong"), "wrong"),
            ),
            count_words=progress(self, self.what.number),
            has_back=False,
        )

    def aside(self) -> tuple[Choice, ...]:
        """Offer to key a piece of this sample anew; piece by piece, one of any characteristic of the round."""
        return (Choice(say("I keyed it wrong"), "wrong"),) if self.keyed else ()

    @property
    def keyed(self) -> list[tuple[str, int]]:
        """What may be keyed anew from here, the latest first: characteristic and piece."""
        one_by_one = [self.what.number]
        names = [one.number for one in self.work.characteristics()] if self.state.is_piece_by_piece else one_by_one
        open_here = [sample for name in names if (sample := self.state.sample_of(name)) is not None]
        pieces = [(kept.page, sample.characteristic, kept.piece) for sample in open_here for kept in sample.pieces]
        return [(name, piece) for _, name, piece in sorted(pieces, reverse=True)]

    def answer(self, keyed: str, entry: Entry) -> None:
        """Hand what was keyed to the station; show what it says."""
        self.steps.bar = None
        entry = entry.model_copy(update={"heat": self.heat, "paper": self.paper})
        try:
            if self.anew is not None:
                done = self.work.key_anew(self.what.number, self.anew, keyed, entry)
            else:
                done = self.work.key(self.what.number, keyed, entry)
        except GaugeAskedAgain:
            self.steps.go(self.steps.gauge_screen(self.what.number))
            raise
        self.steps.wipe_figure()
        if isinstance(done, LookAgain):
            self.steps.say(*(Told(one, Mark.LOOK) for one in done.say))
            return
        self.anew = None
        self.kept(done)

    def kept(self, done: KeptReading) -> None:
        """Show a kept reading: its verdict, and only now the limits and the dot on the bar."""
        act = done.page.act
        assert isinstance(act, Reading)
        if act.re_measure_of is not None:
            self.steps.measured_again(act.re_measure_of)
        is_plain = done.is_blind or any(mark_of(one) is Mark.STOP for one in done.say)
        self.steps.done(done)
        self.steps.say(
            *(
                Told(one, Mark.PLAIN if is_plain else Mark.OK) if one.startswith("Kept") else Told(one, mark_of(one))
                for one in sorted(done.say, key=lambda one: mark_of(one) is not Mark.STOP)
            )
        )
        cautions = cautions_of(self.what, act.verdict)
        if not done.is_blind:
            self.steps.told += tuple(Told(one) for one in cautions)
            self.steps.bar = bar_of(self.what, act)
        self._go_on(act)

    def _go_on(self, act: Reading) -> None:
        """Piece by piece: go to what is measured next on this piece; after a STOP only once the person says so."""
        following = self.work.next_in_round(self.what.number)
        if following == self.what.number:
            return
        told, bar = self.steps.told, self.steps.bar
        about = Told(say("That was {what}, piece {piece}.", what=self.what.number, piece=act.piece))
        if any(one.mark is Mark.STOP for one in told):
            self.steps.go(Halted(self.steps, about.words, following))
            return
        self.steps.measure(following)
        # What the next characteristic wants said first, such as a gauge that is out, stands before what was kept.
        news = () if self.steps.told == told else self.steps.told
        self.steps.told, self.steps.bar = (*news, *told, about), bar

    def pick(self, act: str) -> None:
        """End the sample, key a piece anew, or go back."""
        if act == "end":
            ended = [self.work.end_sample(what) for what in self._all_in()]
            self.steps.done(ended[-1])
            self.steps.say(*(one for done in ended for one in told_of(done.say)))
            self.steps.hub()
        elif act == "wrong":
            self.steps.go(WhichPiece(self.steps, self))
        elif act == "back":
            self.steps.told, self.steps.bar = (), None
            self.steps.hub()

    def _all_in(self) -> list[str]:
        """Return what is ended with this sample: piece by piece, every sample of the job that is all in."""
        if not self.state.is_piece_by_piece:
            return [self.what.number]
        open_here = [(one.number, self.state.sample_of(one.number)) for one in self.work.characteristics()]
        return [number for number, sample in open_here if sample is not None and sample.got >= sample.planned]

    def scan(self, code: str) -> bool:
        """Scan the gauge again, or another one for the pieces to come."""
        if any(code in one.badges for one in self.lists.people):
            return False
        screen = self.steps.gauge_screen(self.what.number)
        number = number_in(code, (one.number for one in self.lists.gauges))
        if not any(one.number == number for one in self.lists.gauges):
            return False
        self.steps.go(screen)
        return screen.scan(code)


class Piece(Measured):
    """A figure on the pad: whole, or as divisions over or under."""

    def __init__(self, steps: Steps, what: Characteristic) -> None:
        super().__init__(steps, what)
        taken = self.state.gauge_for(what.number)
        gauge = None if taken is None else self.work.gauge(taken.gauge)
        is_dial = gauge is not None and gauge.kind.is_comparator and gauge.least_count is not None
        self.is_in_divisions = is_dial
        self._can_both = is_dial

    def shown(self) -> Shown:
        """The pad, what is keyed in words, and what was kept before."""
        if self.is_full:
            return self.full()
        over_wires = self.what.rule == "over wires"
        return Shown(
            title=say("{title} over wires", title=self.title) if over_wires else self.title,
            told=self.told, bar=self.steps.bar, pad=Pad.DIVISIONS if self.is_in_divisions else Pad.FIGURE,
            figure=self.steps.figure, figure_words=self._words(),
            count_words=progress(self, self.what.number),
        )  # fmt: skip

    def aside(self) -> tuple[Choice, ...]:
        """Offer the other way to key the figure."""
        other = say("Key the whole figure") if self.is_in_divisions else say("Key divisions over or under")
        return (*((Choice(other, "way"),) if self._can_both else ()), *super().aside())

    def _words(self) -> Said:
        typed, sign = self.steps.typed, self.steps.sign
        if not self.is_in_divisions:
            return say("{unit}", unit=self.what.unit)
        if not typed:
            return say("divisions")
        if sign == "-":
            return say_count("{n} division UNDER", "{n} divisions UNDER", n=typed)
        if sign == "+":
            return say_count("{n} division OVER", "{n} divisions OVER", n=typed)
        if not typed.strip("0."):
            return say("0 divisions")
        return say_count("{n} division: OVER or UNDER?", "{n} divisions: OVER or UNDER?", n=typed)

    def keep(self, keyed: str) -> None:
        """Hand the figure to the station; divisions need their side told."""
        if not self.steps.typed:
            taken = self.state.gauge_for(self.what.number)
            if taken is not None and self.steps.ask_gauge(taken.gauge):
                self.steps.say(Told(say("{gauge} is asked for its value.", gauge=taken.gauge)))
                return
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
            return
        if self.is_in_divisions and not self.steps.sign and self.steps.typed.strip("0."):
            self.steps.say(Told(say("OVER or UNDER? Press one, then Keep."), Mark.LOOK))
            return
        self.answer(keyed, Entry(keyed_as=KeyedAs.DIVISIONS if self.is_in_divisions else None))

    def pick(self, act: str) -> None:
        """Change between the whole figure and divisions."""
        if act == "way":
            self.is_in_divisions = not self.is_in_divisions
            self.steps.wipe_figure()
            return
        super().pick(act)


class AcceptReject(Measured):
    """Two equal keys, far apart, no answer beforehand."""

    def shown(self) -> Shown:
        """Accept at one end, reject at the other."""
        if self.is_full:
            return self.full()
        return Shown(
            title=self.title, told=self.told, is_apart=True,
            choices=(Choice(say("Accept"), "Accept"), Choice(say("Reject"), "Reject")),
            count_words=progress(self, self.what.number),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Keep the answer."""
        if act in ("Accept", "Reject"):
            self.answer(act, Entry())
            return
        super().pick(act)


class Turns(Measured):
    """How far the NOT GO member went on, in quarter turns."""

    def __init__(self, steps: Steps, what: Characteristic) -> None:
        super().__init__(steps, what)
        self._quarters: int | None = None

    def shown(self) -> Shown:
        """Quarter turns so far, and the keys that change them."""
        if self.is_full:
            return self.full()
        quarters = self._quarters
        figure = "" if quarters is None else _in_quarters(quarters)
        return Shown(
            title=self.title, told=self.told, figure=figure, figure_words=say("turns"),
            choices=(
                Choice(say("Did not go on: 0"), "none"), Choice(say("1 turn more"), "whole"),
                Choice(say("\N{VULGAR FRACTION ONE QUARTER} turn more"), "quarter"),
                Choice(say("\N{VULGAR FRACTION ONE QUARTER} turn less"), "less"),
                Choice(say("Keep"), "keep", is_strong=True),
            ),
            count_words=progress(self, self.what.number),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Count quarter turns, or keep them."""
        before = self._quarters or 0
        if act == "keep":
            if self._quarters is None:
                self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
                return
            keyed = str(Decimal(self._quarters) / 4)
            self._quarters = None
            self.answer(keyed, Entry())
        elif act in ("none", "whole", "quarter", "less"):
            self._quarters = {"none": 0, "whole": before + 4, "quarter": before + 1, "less": max(0, before - 1)}[act]
        else:
            super().pick(act)


def _in_quarters(quarters: int) -> str:
    whole, rest = divmod(quarters, 4)
    part = ("", "\N{VULGAR FRACTION ONE QUARTER}", "\N{VULGAR FRACTION ONE HALF}",
            "\N{VULGAR FRACTION THREE QUARTERS}")[rest]  # fmt: skip
    return f"{whole}{part}" if whole or not part else part


class Halted(Screen):
    """A piece stopped the work; the person goes on when it is tagged and told."""

    def __init__(self, steps: Steps, about: Said, following: str) -> None:
        super().__init__(steps)
        self._about, self._following = about, following

    def shown(self) -> Shown:
        """Show what was said of the piece, and one key to go on."""
        return Shown(title=self._about, told=self.steps.told, bar=self.steps.bar, has_back=False,
                     choices=(Choice(say("Go on"), "on", is_strong=True),))  # fmt: skip

    def pick(self, act: str) -> None:
        """Go to the next characteristic of the piece."""
        self.steps.told, self.steps.bar = (), None
        self.steps.measure(self._following)


class WhichPiece(Screen):
    """I keyed it wrong: which piece of the open sample?"""

    def __init__(self, steps: Steps, back_to: Measured) -> None:
        super().__init__(steps)
        self._back_to = back_to

    def shown(self) -> Shown:
        """Offer the pieces keyed; what was kept before stays in the book."""
        return Shown(
            title=say("I keyed it wrong: which piece?"),
            told=(Told(say("The first keying stays in the book beside the new one.")),),
            choices=tuple(Choice(self._words(what, piece), f"{what} {piece}") for what, piece in self._back_to.keyed),
        )

    def _words(self, what: str, piece: int) -> Said:
        if self.state.is_piece_by_piece:
            return say("{what}, piece {piece}", what=what, piece=piece)
        return say("Piece {piece}", piece=piece)

    def pick(self, act: str) -> None:
        """Key that piece anew."""
        self.steps.told, self.steps.bar = (), None
        screen = self._back_to
        if act != "back":
            what, piece = act.rsplit(" ", 1)
            if what != screen.what.number:
                known = piece_screen(self.steps, what)
                assert isinstance(known, Measured)
                screen = known
            screen.anew = int(piece)
        self.steps.go(screen)


def cautions_of(what: Characteristic, verdict: Verdict) -> tuple[Said, ...]:
    """Return what is to be known beside a verdict, the most pressing first."""
    own: tuple[Said, ...] = ()
    if verdict.is_bad and what.feature is Feature.EXTERNAL_ROLLED_THREAD:
        own = (say("Never chase, file or roll a rolled thread again: it breaks later. Scrap it."),)
    elif verdict.is_bad and what.feature is Feature.HARDNESS:
        own = (say("Do not grind or heat-treat again to rescue hardness without engineering authority."),)
    return (*own, say("Drawing and customer come first. In doubt stop, ask."))
