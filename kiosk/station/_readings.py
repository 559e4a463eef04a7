"""Keying a reading: ask once to look again, judge, keep, and say what to do.

Owns making one reading's page out of what was keyed and what the station knows.
"""

from datetime import datetime, timedelta
from typing import Literal

from kiosk.errors import BadgeRefused, GaugeAskedAgain, NotANumber, NotInSample, PersonCanMend, StepMissing
from kiosk.judge import Around, Given, Judged, judge, question
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature
from kiosk.measure.decimals import read_figure
from kiosk.pages.readings import AskedAgain, Keying, Reading
from kiosk.pages.words import KeyedAs, Source, Verdict
from kiosk.said import Said, say
from kiosk.station._checks import SetUps
from kiosk.station._exchange import Entry, KeptReading, LookAgain, usual_unit, usual_way
from kiosk.station._state import GaugeInHand, KeptPiece, Sample
from kiosk.times import read_time, write_time


class Readings(SetUps):
    """The measuring itself, piece by piece."""

    def key(self, characteristic: str, keyed: str, entry: Entry | None = None) -> KeptReading | LookAgain:
        """Take what was keyed for the next piece: keep it as a reading, or ask once to look again.

        Raises:
            NotANumber: a figure is needed and what was keyed is none.
            StepMissing: badge, job, gauge or sample is missing.
            GaugeAskedAgain: the gauge lay idle too long or another person took over.
            BadgeRefused: a paper form is read back by the person who keyed it.
        """
        sample = self._sample(characteristic)
        piece = sample.next_piece if entry is None or entry.piece is None else entry.piece
        return self._take(sample, keyed, entry or Entry(), piece=piece, replaced=None)

    def key_anew(
        self, characteristic: str, piece: int, keyed: str, entry: Entry | None = None
    ) -> KeptReading | LookAgain:
        """Key a piece of the open sample anew, unasked; the earlier keying stays in the book.

        Raises:
            NotInSample: the piece is not in the open sample; then only a correction page helps.
            NotANumber, GaugeAskedAgain: as in `key`.
        """
        sample = self._sample(characteristic)
        before = sample.piece(piece)
        if before is None:
            self._refuse(
                NotInSample(
                    say("Not kept: piece {piece} is not in the open sample.", piece=piece),
                    why=say("A finished sample is not changed any more."),
                    next_step=say("Write a correction: old value, new value, reason."),
                )
            )
        return self._take(sample, keyed, entry or Entry(), piece=piece, replaced=before)

    def _take(
        self, sample: Sample, keyed: str, entry: Entry, *, piece: int, replaced: KeptPiece | None
    ) -> KeptReading | LookAgain:
        self._person()
        what = self._characteristic(sample.characteristic)
        self._check_paper(entry)
        given = self._given(what, sample, keyed, entry, piece=piece)
        if replaced is not None:
            given = given.model_copy(update={"replaced_verdict": replaced.verdict})
        around = self._around_reading(given, piece=piece, is_anew=replaced is not None)
        moment = self._moment(entry)
        try:
            slips = question(given, self._lists, around, moment=moment, zone=self._zone)
            judged = judge(given, self._lists, around, moment=moment, zone=self._zone)
        except PersonCanMend as error:
            self._refuse(error)
        if slips:
            return self._look_again(given, sample, slips, piece=piece)
        page = self._keep_page(self._reading(given, entry, sample, judged, piece, replaced), self._state.person)
        after = self._state.sample_of(sample.characteristic) or sample
        told = (*self._told(judged, given, after), *self._told_of_form(entry))
        return KeptReading(page=page, say=told, judged=judged, is_blind=after.is_blind)

    def _look_again(self, given: Given, sample: Sample, slips: tuple[str, ...], *, piece: int) -> LookAgain:
        act = AskedAgain(
            lot=sample.lot, operation=sample.operation, characteristic=sample.characteristic, sample=sample.number,
            piece=piece, keying=Keying(text=given.keyed, asked=slips), keyed_as=given.keyed_as,
        )  # fmt: skip
        self._keep_page(act, self._state.person)
        # All that is ever said of a figure that looks wrong: no limit, no value, no guess.
        return LookAgain(say=(say("Look again and key the whole reading."),))

    def _given(self, what: Characteristic, sample: Sample, keyed: str, entry: Entry, *, piece: int) -> Given:
        taken = self._gauge_in_hand(what)
        gauge = None if taken is None else self._lists.gauge(taken.gauge, self._now())
        heats = self._state.out_of_heat
        out_at = heats.get((sample.lot, piece)) or heats.get((sample.lot, None))
        person = self._state.person if entry.paper is None else entry.paper.taken_by
        is_countersigned = sample.countersigned_for is not None and sample.countersigned_for == person
        keyed_as = entry.keyed_as or usual_way(what)
        self._check_sign(what, keyed, keyed_as)
        place = (sample.lot, sample.operation, sample.characteristic, sample.number, piece)
        earlier = (*self._state.asked.get(place, ()), *(Keying(text=text) for text in entry.wiped))
        job = self._job()
        return Given(
            lot=job.lot, part=job.part, operation=job.operation, characteristic=what, keyed=keyed, keyed_as=keyed_as,
            unit=entry.unit or usual_unit(what, gauge), sample_kind=sample.kind,
            gauge=None if taken is None else taken.gauge, master=None if taken is None else taken.master,
            source=Source.PAPER if entry.paper is not None else entry.source,
            earlier=earlier[-self._settings.station_keyings_limit :],
            heat=entry.heat.model_copy(update={"out_at": entry.heat.out_at or out_at}), person=person,
            countersigned_by=sample.countersigned_by if is_countersigned else None,
        )  # fmt: skip

    def _check_sign(self, what: Characteristic, keyed: str, keyed_as: KeyedAs) -> None:
        """Refuse a full indicator movement below nothing; a movement has no direction."""
        if what.feature is not Feature.FACE_RUNOUT or keyed_as is KeyedAs.ACCEPT_REJECT:
            return
        try:
            is_below = read_figure(keyed).startswith("-")
        except NotANumber as error:
            self._refuse(error)
        if is_below:
            self._refuse(
                NotANumber(
                    say("Not kept: {keyed} is below nothing.", keyed=keyed),
                    why=say("A runout is the whole way the needle moved, without plus or minus."),
                    next_step=say("Turn the piece once, look again and key the whole reading."),
                )
            )

    def _check_paper(self, entry: Entry) -> None:
        """Refuse a form read back by the person who keys it: two persons, two pairs of eyes (N19)."""
        if entry.paper is None or entry.paper.read_back_by != self._state.person:
            return
        self._refuse(
            BadgeRefused(
                say("Not kept: the same person keyed and read back."),
                why=say("A paper form is keyed by one person and compared by another."),
                next_step=say("Let somebody else read it back against the form and badge in for that."),
            )
        )

    def _moment(self, entry: Entry) -> datetime:
        return self._now() if entry.paper is None else read_time(entry.paper.taken_at)

    def _around_reading(self, given: Given, *, piece: int, is_anew: bool) -> Around:
        """Return what the station knows around the reading; of the hour a form was written it knows nothing."""
        around = self.around(given.gauge, given.operation, sample_kind=given.sample_kind)
        if given.source is Source.PAPER:
            return Around(
                station=around.station,
                lists_taken_at=around.lists_taken_at,
                is_gauge_issued_here=around.is_gauge_issued_here,
            )
        is_double = not is_anew and self._is_double_tap(given, piece)
        return around.model_copy(update={"is_double_tap": is_double})

    def _is_double_tap(self, given: Given, piece: int) -> bool:
        last = self._state.last_reading
        here = (given.lot, given.characteristic.number, piece)
        if last is None or (last.lot, last.characteristic, last.piece) != here:
            return False
        limit = timedelta(seconds=self._numbers().double_tap_s)
        return last.keyed == given.keyed and self._now() - last.at <= limit

    def _sample(self, characteristic: str) -> Sample:
        self._job()
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
        is_long = self._idle(taken) > timedelta(minutes=self._settings.station_idle_min)
        if is_long or taken.person != self._state.person:
            self._refuse(
                GaugeAskedAgain(
                    say("Not kept yet: scan {gauge} again.", gauge=taken.gauge),
                    why=say("It lay idle a while, or another person took over."),
                    next_step=say("Scan the gauge in your hand, then key the reading again."),
                )
            )
        return taken

    def _reading(
        self, given: Given, entry: Entry, sample: Sample, judged: Judged, piece: int, replaced: KeptPiece | None
    ) -> Reading:
        revision = self._revision(given.part, given.lot)
        plan = self._lists.plan(given.part, revision, given.operation, self._now())
        set_up = self._state.set_up_of(given.operation)
        taken, paper, heat = self._state.gauge_for(sample.characteristic), entry.paper, given.heat
        typed: tuple[Literal["lot", "gauge", "master"], ...] = taken.typed if taken is not None else ()
        has_temperature = heat.part is not None or heat.gauge is not None
        return Reading(
            lot=given.lot, operation=given.operation, part=given.part, revision=revision,
            plan_version="none" if plan is None else plan.version, set_up=None if set_up is None else set_up.number,
            characteristic=sample.characteristic, sample=sample.number, sample_kind=sample.kind, piece=piece,
            position=entry.position, gauge=given.gauge, master=given.master,
            typed=("lot", *typed) if self._job().typed else typed, keyed=given.keyed, keyed_as=given.keyed_as,
            unit=given.unit, earlier=given.earlier, value=judged.value, computed_from=judged.computed_from,
            part_temperature=None if heat.part is None else str(heat.part),
            gauge_temperature=None if heat.gauge is None else str(heat.gauge),
            temperature_unit=heat.unit if has_temperature else None,
            out_of_heat_at=None if heat.out_at is None else write_time(heat.out_at), source=given.source,
            paper_form=None if paper is None else paper.form, paper_taken_at=None if paper is None else paper.taken_at,
            taken_by=None if paper is None else paper.taken_by,
            read_back_by=None if paper is None else paper.read_back_by, re_measure_of=sample.re_measure_of,
            replaces=None if replaced is None else replaced.page, verdict=judged.verdict, standing=judged.standing,
            reasons=judged.reasons, remark=entry.remark, photo=entry.photo,
        )  # fmt: skip

    def _told_of_form(self, entry: Entry) -> tuple[Said, ...]:
        """Return what is still wanted of a paper form: a second person, and not later than N19."""
        if entry.paper is None:
            return ()
        hours = self._numbers().paper_h
        late = say("This form is more than {hours} h old. Tell the lead.", hours=hours)
        alone = say("Somebody else still has to read this back against the form.")
        is_late = self._now() - read_time(entry.paper.taken_at) > timedelta(hours=hours)
        return (*((late,) if is_late else ()), *((alone,) if entry.paper.read_back_by is None else ()))

    def _told(self, judged: Judged, given: Given, sample: Sample) -> tuple[Said, ...]:
        """Return what to say of a kept reading; of a blind sample nothing but its progress until it is all in."""
        if sample.is_blind:
            progress = say("Kept: {got} of {planned}.", got=sample.got, planned=sample.planned)
            return (progress, *self.warnings(set(judged.reasons) - {"X24", "X25"}, given.gauge))
        kept = say("Kept: {shown}. {verdict}.", shown=judged.shown or given.keyed, verdict=judged.verdict)
        if given.keyed_as is KeyedAs.ACCEPT_REJECT:
            kept = say("Kept: {verdict}.", verdict=judged.verdict)
        warned = self.warnings(judged.reasons, given.gauge)
        if judged.verdict.is_bad:
            return (say("STOP. {verdict}. Tag the piece, stop, call.", verdict=judged.verdict), kept, *warned)
        if judged.verdict is Verdict.NOT_JUDGED:
            return (say("STOP. Kept: {keyed}. Not judged. QC looks at it.", keyed=given.keyed), *warned)
        return (kept, *warned)
