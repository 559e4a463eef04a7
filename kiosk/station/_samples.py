"""Samples, piece by piece: key, look again, keep; key anew, countersign, end; and paper keyed in later."""

from datetime import timedelta
from typing import Literal

from kiosk.errors import GaugeAskedAgain, NotInSample, PersonCanMend, ReworkRefused, StepMissing
from kiosk.judge import Given, HeatNote, Judged, judge, question
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature
from kiosk.pages import Frozen
from kiosk.pages._base import Keyed, Name, PageRef, Words
from kiosk.pages.readings import AskedAgain, Countersign, Keying, Reading, SampleEnd
from kiosk.pages.words import KeyedAs, SampleKind, Source, Verdict
from kiosk.station._results import Begun, Done, KeptReading, LookAgain
from kiosk.station._said import Said, say
from kiosk.station._setups import SetUps
from kiosk.station._state import GaugeInHand, Job, KeptPiece, Sample
from kiosk.times import LocalTime, write_time


class Paper(Frozen):
    """Where a figure on paper comes from: the form, when and by whom it was measured, and who read it back."""

    form: Name
    taken_at: LocalTime
    taken_by: Name
    read_back_by: Name | None = None


class Entry(Frozen):
    """How one figure was keyed; what is not said is as usual."""

    keyed_as: KeyedAs = KeyedAs.VALUE
    unit: Name | None = None
    """Unit of what was keyed; none: the drawing's."""
    piece: int | None = None
    """None: the next piece."""
    position: Name | None = None
    heat: HeatNote = HeatNote()
    source: Source = Source.KEYED
    paper: Paper | None = None
    wiped: tuple[Keyed, ...] = ()
    """Keyings that were wiped off the screen before this one, oldest first."""
    remark: Words | None = None


class Samples(SetUps):
    """The measuring itself."""

    def begin_sample(
        self,
        characteristic: str,
        *,
        kind: SampleKind = SampleKind.RUN,
        number: int | None = None,
        re_measure_of: PageRef | None = None,
        measured_anyway: bool = False,
    ) -> Begun:
        """Open a sample of a characteristic of the job; one left short is ended first.

        Raises:
            ReworkRefused: a re-check after rework of a rolled external thread; such pieces are scrap.
        """
        self._person()
        job, what = self._job(), self._characteristic(characteristic)
        if kind is SampleKind.RE_WORK and what.feature is Feature.EXTERNAL_ROLLED_THREAD and not measured_anyway:
            self._refuse(_rework_refusal(), by_rule="X62")
        before = self._state.sample_of(characteristic)
        if before is not None and 0 < before.got < before.planned:
            self.end_sample(characteristic, why_short="the next sample was begun")
        sample = Sample(
            lot=job.lot, operation=job.operation, characteristic=characteristic,
            number=number or self._next_number(job, characteristic), kind=kind,
            planned=what.sample_n if kind is SampleKind.RUN else 0, re_measure_of=re_measure_of,
        )  # fmt: skip
        self._open_sample(sample)
        return Begun(number=sample.number, piece=1, planned=sample.planned)

    def key(self, characteristic: str, keyed: str, entry: Entry | None = None) -> KeptReading | LookAgain:
        """Take what was keyed for the next piece: keep it as a reading, or ask once to look again.

        Raises:
            NotANumber: a figure is needed and what was keyed is none; it is still on the screen.
            StepMissing, GaugeAskedAgain: badge, job, sample or gauge is missing.
        """
        entry = entry or Entry()
        person, job, what = self._person(), self._job(), self._characteristic(characteristic)
        sample = self._sample(characteristic)
        piece = entry.piece or sample.next_piece
        gauge = self._gauge_in_hand(what)
        asked = self._state.asked.get((characteristic, piece), ())
        earlier = (*asked, *(Keying(text=text) for text in entry.wiped))
        given = self._given(job, what, sample, keyed=keyed, entry=entry, gauge=gauge, person=person, earlier=earlier)
        slips = self._question(given)
        if slips:
            act = AskedAgain(
                lot=job.lot, operation=job.operation, characteristic=characteristic, sample=sample.number,
                piece=piece, keying=Keying(text=keyed, asked=slips), keyed_as=entry.keyed_as,
            )  # fmt: skip
            self._keep_page(act, person)
            return LookAgain(say=(say("Look again at the gauge and key the whole reading."),))
        return self._keep_reading(given, entry, sample, piece=piece)

    def key_anew(self, characteristic: str, piece: int, keyed: str, entry: Entry | None = None) -> KeptReading:
        """Key a piece of the open sample anew, unasked; the earlier keying stays in the book.

        Raises:
            NotInSample: the sample is over or the piece is not in it; then only a correction page helps.
            NotANumber: a figure is needed and what was keyed is none.
        """
        entry = (entry or Entry()).model_copy(update={"piece": piece})
        person, job, what = self._person(), self._job(), self._characteristic(characteristic)
        sample = self._sample(characteristic)
        before = sample.piece(piece)
        if before is None or self._is_over():
            self._refuse(_not_in_sample(piece))
        gauge = self._gauge_in_hand(what)
        given = self._given(job, what, sample, keyed=keyed, entry=entry, gauge=gauge, person=person, earlier=())
        return self._keep_reading(given, entry, sample, piece=piece, replaced=before)

    def end_sample(self, characteristic: str, *, why_short: str | None = None) -> Done:
        """End the open sample of a characteristic, complete or short."""
        sample = self._sample(characteristic)
        act = SampleEnd(
            lot=sample.lot, operation=sample.operation, characteristic=characteristic, sample=sample.number,
            planned=sample.planned, got=sample.got, why_short=why_short,
        )  # fmt: skip
        short = say("{got} of {planned} done. The sample is short.", got=sample.got, planned=sample.planned)
        return self._keep(act, *((short,) if sample.got < sample.planned else ()))

    def countersign(self, characteristic: str, trainer: str) -> Done:
        """Keep that a trainer stands beside the person for the open sample; afterwards it has no effect.

        Raises:
            NotInSample: the sample is over.
        """
        sample, trainee = self._sample(characteristic), self._person()
        if self._is_over():
            self._refuse(_not_in_sample(None))
        act = Countersign(
            trainee=trainee, lot=sample.lot, operation=sample.operation, characteristic=characteristic,
            sample=sample.number,
        )  # fmt: skip
        return self._keep(act, person=self._find_person(trainer))

    def _next_number(self, job: Job, characteristic: str) -> int:
        known = self._state.rounds.get((job.lot, job.operation))
        if known is None:
            return 1
        return known.number + 1 if characteristic in known.characteristics else known.number

    def _sample(self, characteristic: str) -> Sample:
        found = self._state.sample_of(characteristic)
        if found is None:
            self._refuse(
                StepMissing(
                    say("Not kept: no sample of {what} is open.", what=characteristic),
                    why=say("Each reading belongs to a piece of a sample."),
                    next_step=say("Begin the sample, then key the reading."),
                )
            )
        return found

    def _gauge_in_hand(self, what: Characteristic) -> GaugeInHand | None:
        taken = self._state.gauge_for(what.number)
        if taken is None and not what.gauge_kinds:
            return None
        if taken is None:
            self._refuse(
                StepMissing(
                    say("Not kept: no gauge was scanned for {what}.", what=what.name),
                    why=say("A reading without its gauge proves nothing."),
                    next_step=say("Scan the gauge, then key the reading."),
                )
            )
        if taken.person != self._state.person or self._is_over():
            self._refuse(
                GaugeAskedAgain(
                    say("Not kept yet: scan {gauge} again.", gauge=taken.gauge),
                    why=say("It lay idle, or another person took over."),
                    next_step=say("Scan the gauge in your hand, then key the reading again."),
                )
            )
        return taken

    def _is_over(self) -> bool:
        return self._idle() > timedelta(minutes=self._settings.station_idle_min)

    def _given(  # noqa: PLR0913 - what a reading is judged on, gathered in one place
        self,
        job: Job,
        what: Characteristic,
        sample: Sample,
        *,
        keyed: str,
        entry: Entry,
        gauge: GaugeInHand | None,
        person: str,
        earlier: tuple[Keying, ...],
    ) -> Given:
        out_at = self._state.out_of_heat.get((job.lot, entry.piece)) or self._state.out_of_heat.get((job.lot, None))
        is_for_trainee = sample.countersigned_for == person
        return Given(
            lot=job.lot, part=job.part, operation=job.operation, characteristic=what, keyed=keyed,
            keyed_as=entry.keyed_as, unit=entry.unit or what.unit, sample_kind=sample.kind,
            gauge=None if gauge is None else gauge.gauge, master=None if gauge is None else gauge.master,
            source=entry.source, earlier=earlier, heat=entry.heat.model_copy(update={"out_at": out_at}),
            person=person, countersigned_by=sample.countersigned_by if is_for_trainee else None,
        )  # fmt: skip

    def _question(self, given: Given) -> tuple[str, ...]:
        around = self.around(given.gauge, given.operation, sample_kind=given.sample_kind)
        try:
            return question(given, self._lists, around, moment=self._now(), zone=self._zone)
        except PersonCanMend as error:
            self._refuse(error)

    def _keep_reading(
        self, given: Given, entry: Entry, sample: Sample, *, piece: int, replaced: KeptPiece | None = None
    ) -> KeptReading:
        around = self.around(given.gauge, given.operation, sample_kind=given.sample_kind)
        is_double = replaced is None and self._is_double_tap(given, piece)
        around = around.model_copy(update={"is_double_tap": is_double})
        if replaced is not None:
            given = given.model_copy(update={"replaced_verdict": replaced.verdict})
        try:
            judged = judge(given, self._lists, around, moment=self._now(), zone=self._zone)
        except PersonCanMend as error:
            self._refuse(error)
        act = self._reading(given, entry, sample, judged, piece=piece, replaced=replaced)
        page = self._keep_page(act, given.person)
        told = self._told(judged, given)
        after = self._state.sample_of(given.characteristic.number)
        return KeptReading(page=page, say=told, judged=judged, is_blind=after is not None and after.is_blind)

    def _reading(
        self, given: Given, entry: Entry, sample: Sample, judged: Judged, *, piece: int, replaced: KeptPiece | None
    ) -> Reading:
        revision = self._revision(given.part, given.lot)
        plan = self._lists.plan(given.part, revision, given.operation, self._now())
        set_up = self._state.set_up_of(given.operation)
        taken, job, paper, heat = (
            self._state.gauge_for(given.characteristic.number),
            self._job(),
            entry.paper,
            given.heat,
        )
        typed: tuple[Literal["lot", "gauge", "master"], ...] = taken.typed if taken is not None else ()
        is_warm = heat.part is not None or heat.gauge is not None
        return Reading(
            lot=given.lot, operation=given.operation, part=given.part, revision=revision,
            plan_version="none" if plan is None else plan.version, set_up=None if set_up is None else set_up.number,
            characteristic=given.characteristic.number, sample=sample.number, sample_kind=sample.kind, piece=piece,
            position=entry.position, gauge=given.gauge, master=given.master,
            typed=("lot", *typed) if job.typed else typed, keyed=given.keyed, keyed_as=given.keyed_as, unit=given.unit,
            earlier=given.earlier, value=judged.value, computed_from=judged.computed_from,
            part_temperature=None if heat.part is None else str(heat.part),
            gauge_temperature=None if heat.gauge is None else str(heat.gauge),
            temperature_unit=heat.unit if is_warm else None,
            out_of_heat_at=None if heat.out_at is None else write_time(heat.out_at), source=given.source,
            paper_form=None if paper is None else paper.form, paper_taken_at=None if paper is None else paper.taken_at,
            taken_by=None if paper is None else paper.taken_by,
            read_back_by=None if paper is None else paper.read_back_by, re_measure_of=sample.re_measure_of,
            replaces=None if replaced is None else replaced.page, verdict=judged.verdict, standing=judged.standing,
            reasons=judged.reasons, remark=entry.remark,
        )  # fmt: skip

    def _is_double_tap(self, given: Given, piece: int) -> bool:
        last = self._state.last_reading
        if last is None or (last.lot, last.characteristic, last.piece) != (
            given.lot,
            given.characteristic.number,
            piece,
        ):
            return False
        return last.keyed == given.keyed and self._now() - last.at <= timedelta(seconds=self._numbers().double_tap_s)

    def _told(self, judged: Judged, given: Given) -> tuple[Said, ...]:
        kept = say("Kept: {shown}. {verdict}.", shown=judged.shown or given.keyed, verdict=judged.verdict)
        warned = self.warnings(judged.reasons, given.gauge or "")
        if judged.verdict.is_bad:
            return (say("STOP. {verdict}. Tag the piece, stop, call.", verdict=judged.verdict), kept, *warned)
        if judged.verdict is Verdict.NOT_JUDGED:
            return (say("Not judged. QC looks at it."), kept, *warned)
        if "X24" in judged.reasons:
            return (say("Over the shop's own limit. Adjust, and log what you did."), kept, *warned)
        return (kept, *warned)


def _rework_refusal() -> ReworkRefused:
    return ReworkRefused(
        say("Not begun: a rolled thread that was damaged is not measured again."),
        why=say("Cutting, filing or rolling it again takes its strength with nothing to see. It is scrap."),
        next_step=say("Tag the pieces, put them in the locked scrap bin with a witness, and call QC."),
    )


def _not_in_sample(piece: int | None) -> NotInSample:
    what = say("Not kept: the sample is over.") if piece is None else say("Not kept: piece {n} is done.", n=piece)
    return NotInSample(
        what,
        why=say("A finished sample is not changed any more."),
        next_step=say("Write a correction: old value, new value, reason."),
    )
