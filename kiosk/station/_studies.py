"""Gauge studies collected at a station: ordered by a leader, measured blind by the appraisers, ended.

Owns who may see what: the leader the whole tray, an appraiser a place and his own progress, nobody an earlier figure.
What the readings come to is reckoned at the consolidator.
"""

from typing import NoReturn

from kiosk.errors import NotANumber, StudyRefused
from kiosk.measure.decimals import read_figure
from kiosk.pages.studies import GaugeStudyEnd, GaugeStudyOrder, GaugeStudyReading
from kiosk.said import Said, say
from kiosk.station._exchange import Done, StudyTurn
from kiosk.station._samples import Samples
from kiosk.station._state import Study
from kiosk.studies import Turn


class Studies(Samples):
    """The gauge studies open at this station."""

    def order_study(self, order: GaugeStudyOrder) -> Done:
        """Begin a gauge study; whoever is badged in leads it, and the order is drawn from the page.

        Raises:
            StudyRefused: the leader is one of the appraisers, a study of this number is open here, the gauge is not
                on the lists or reads in another unit, or a name stands twice.
        """
        leader = self._person()
        why = self._why_not_ordered(order, leader)
        if why is None and len({*order.pieces}) + len({*order.appraisers}) < len(order.pieces) + len(order.appraisers):
            why = say("A piece or an appraiser is named twice.")
        if why is not None:
            self._refuse_study(
                say("Not begun: gauge study {study}.", study=order.study), why, say("Put it right and order it again.")
            )
        lay = say("Lay the pieces into the tray by the card of round 1. The appraisers see places only.")
        return self._keep(order, lay, person=leader)

    def study_tray(self, study: str, trial: int) -> tuple[tuple[int, str], ...]:
        """Return place and piece for a round, in order of place: the card by which the leader lays the tray.

        Raises:
            StudyRefused: no such study is open, or somebody else than its leader asks.
        """
        found = self._study(study)
        self._check_leader(found)
        lying = {turn.place: turn.part for turn in found.turns if turn.trial == trial}
        return tuple(sorted(lying.items()))

    def study_turn(self, study: str) -> StudyTurn | None:
        """Return what the person badged in measures next; none when all his pieces are measured.

        Raises:
            StudyRefused: no such study is open, the person is no appraiser of it, or the round before is not finished.
        """
        found = self._study(study)
        turn = self._next_turn(found)
        return None if turn is None else StudyTurn(trial=turn.trial, place=turn.place, gauge=found.gauge)

    def key_study(self, study: str, keyed: str, *, gauge: str, anew: bool = False) -> Done:
        """Keep what was keyed for the next turn of the person badged in; `anew`: for his last one once more.

        The earlier keying of a turn stays in the book. `gauge` is the gauge scanned for this round.

        Raises:
            StudyRefused: as `study_turn`; or another gauge was scanned, nothing is left to measure or to key anew.
            NotANumber: what was keyed is no figure.
        """
        found = self._study(study)
        turn = self._last_turn(found) if anew else self._next_turn(found)
        if turn is None:
            self._refuse_study(
                say("Not kept: nothing is left to key here."),
                say("All your pieces of this study are measured, or none is yet."),
                say("Go by the place that the screen asks for."),
            )
        if gauge != found.gauge:
            self._refuse_study(
                say("Not kept: {gauge} is not the gauge of this study.", gauge=gauge),
                say("The study is of {gauge} alone.", gauge=found.gauge),
                say("Take {gauge}, scan it, measure the piece again.", gauge=found.gauge),
            )
        act = GaugeStudyReading(
            order=found.order, turn=turn.number, trial=turn.trial, place=turn.place, gauge=gauge, keyed=keyed,
            unit=found.unit, value=self._study_figure(keyed), replaces=found.taken.get(turn.number),
        )  # fmt: skip
        return self._keep(act, self._progress(found, turn), person=turn.appraiser)

    def end_study(self, study: str, *, why_short: str | None = None) -> Done:
        """End a study; its leader says why when it is short.

        Raises:
            StudyRefused: no such study is open, somebody else ends it, or it is short without a reason.
        """
        found = self._study(study)
        self._check_leader(found)
        planned, got = len(found.turns), len(found.taken)
        if got < planned and not why_short:
            self._refuse_study(
                say("Not ended: {got} of {planned} are measured.", got=got, planned=planned),
                say("A short study needs its reason."),
                say("Have the rest measured, or say why it ends here."),
            )
        act = GaugeStudyEnd(order=found.order, planned=planned, got=got, why_short=why_short)
        done = say("Ended: {got} of {planned}. Carry this kiosk; the sheet is printed there.", got=got, planned=planned)
        return self._keep(act, done)

    def _why_not_ordered(self, order: GaugeStudyOrder, leader: str) -> Said | None:
        gauge = self._lists.gauge(order.gauge, self._now())
        if leader in order.appraisers:
            return say("Its leader sees which piece lies where, so he does not measure.")
        if any(open_one.number == order.study for open_one in self._state.studies):
            return say("A study of this number is open here.")
        if gauge is None:
            return say("{gauge} is not on this kiosk's lists.", gauge=order.gauge)
        if gauge.unit != order.unit:
            return say("{gauge} does not read in {unit}.", gauge=order.gauge, unit=order.unit)
        return None

    def _study(self, number: str) -> Study:
        found = next((each for each in self._state.studies if each.number == number), None)
        if found is None:
            self._refuse_study(
                say("No gauge study {study} is open here.", study=number),
                say("It was not ordered at this kiosk, or it was ended."),
                say("Look at its number, or let its leader order it."),
            )
        return found

    def _check_leader(self, study: Study) -> None:
        if self._person() != study.leader:
            self._refuse_study(
                say("Not shown: only the leader of the study sees the tray and ends it."),
                say("Who knows which piece lies where repeats a figure without meaning to."),
                say("Let the leader badge in."),
            )

    def _next_turn(self, study: Study) -> Turn | None:
        person, turns = self._person(), study.turns
        own = [turn for turn in turns if turn.appraiser == person]
        if not own:
            self._refuse_study(
                say("Not asked: you are no appraiser of gauge study {study}.", study=study.number),
                say("Its leader named who measures."),
                say("Let an appraiser badge in."),
            )
        turn = next((each for each in own if each.number not in study.taken), None)
        if turn is not None and any(t.trial < turn.trial and t.number not in study.taken for t in turns):
            self._refuse_study(
                say("Not yet: round {trial} has not begun.", trial=turn.trial),
                say("Somebody still measures in the round before, and the pieces change places after it."),
                say("Wait until the leader has laid the tray again."),
            )
        return turn

    def _last_turn(self, study: Study) -> Turn | None:
        """Return the turn the person measured last, in the round that is under way."""
        person = self._person()
        own = [turn for turn in study.turns if turn.appraiser == person and turn.number in study.taken]
        return own[-1] if own else None

    def _study_figure(self, keyed: str) -> str:
        try:
            return read_figure(keyed)
        except NotANumber as error:
            self._refuse(error)

    def _progress(self, study: Study, turn: Turn) -> Said:
        own = [each.number for each in study.turns if (each.trial, each.appraiser) == (turn.trial, turn.appraiser)]
        got = sum(number in study.taken or number == turn.number for number in own)
        return say("Kept: {got} of {planned} in this round.", got=got, planned=len(own))

    def _refuse_study(self, what: Said, why: Said, next_step: Said) -> NoReturn:
        self._refuse(StudyRefused(what, why=why, next_step=next_step))
