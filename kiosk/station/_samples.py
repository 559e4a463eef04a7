"""Samples: begun, countersigned by a trainer, ended."""

from datetime import timedelta

from kiosk.errors import NotInSample, ReworkRefused, SignatureRefused
from kiosk.judge import is_qualified
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature, Level
from kiosk.pages._base import PageRef
from kiosk.pages.readings import Countersign, SampleEnd
from kiosk.pages.station import MeasuringOrder
from kiosk.pages.words import SampleKind
from kiosk.said import Said, say, say_count
from kiosk.station._core import planned_pieces
from kiosk.station._exchange import Begun, Done
from kiosk.station._readings import Readings
from kiosk.station._state import Job, Sample


class Samples(Readings):
    """The rounds of measuring."""

    def begin_sample(
        self,
        characteristic: str,
        *,
        kind: SampleKind = SampleKind.RUN,
        number: int | None = None,
        re_measure_of: PageRef | None = None,
        measured_anyway: bool = False,
    ) -> Begun:
        """Open a sample of a characteristic of the job; one still open is ended first, complete or short.

        `number` is the sample's number; none: the next one of this lot and operation.

        Raises:
            ReworkRefused: a re-check after rework of a rolled external thread; such pieces are scrap.
        """
        self._person()
        job, what = self._job(), self._characteristic(characteristic)
        if kind is SampleKind.RE_WORK and what.feature is Feature.EXTERNAL_ROLLED_THREAD and not measured_anyway:
            self._refuse(_rework_refusal(), by_rule="X62")
        before, gauge = self._state.sample_of(characteristic), self._state.gauge_for(characteristic)
        if before is not None and before.pieces:
            is_new = gauge is not None and gauge.page > max(kept.page for kept in before.pieces)
            gauge = gauge if is_new else None
            self.end_sample(characteristic, why_short="the next sample was begun" if _is_short(before) else None)
        sample = Sample(
            lot=job.lot, operation=job.operation, characteristic=characteristic,
            number=number or self._next_number(job, what), kind=kind, planned=planned_pieces(what, kind),
            re_measure_of=re_measure_of,
        )  # fmt: skip
        self._open_sample(sample, gauge)
        return Begun(number=sample.number, piece=1, planned=sample.planned, say=self._told_before(characteristic))

    def choose_order(self, *, is_piece_by_piece: bool) -> Done:
        """Keep how samples are measured from here; it holds until it is chosen otherwise."""
        self._person()
        return self._keep(MeasuringOrder(is_piece_by_piece=is_piece_by_piece))

    def next_in_round(self, characteristic: str) -> str:
        """Return what is measured after a piece of a characteristic, as the operator chose.

        Piece by piece that is, in plan order, the one of this round with the fewest pieces; one whose sample was ended
        or is all in has its turn behind it. Samples for another reason are measured one characteristic at a time.
        """
        sample = self._state.sample_of(characteristic)
        if sample is None or not self._state.is_piece_by_piece or sample.kind is not SampleKind.RUN:
            return characteristic
        known = self._state.rounds.get((sample.lot, sample.operation))
        measured = known.characteristics if known is not None and known.number == sample.number else frozenset[str]()
        waiting: dict[str, int] = {}
        for what in self.characteristics():
            other = self._state.sample_of(what.number)
            if other is not None and (other.kind, other.number) == (sample.kind, sample.number):
                if other.got < other.planned:
                    waiting[what.number] = other.got
            elif other is None and what.interval_min is not None and what.number not in measured:
                waiting[what.number] = 0
        return min(waiting, key=lambda number: waiting[number], default=characteristic)

    def end_sample(self, characteristic: str, *, why_short: str | None = None) -> Done:
        """End the open sample of a characteristic, complete or short."""
        sample = self._sample(characteristic)
        act = SampleEnd(
            lot=sample.lot, operation=sample.operation, characteristic=characteristic, sample=sample.number,
            planned=sample.planned, got=sample.got, why_short=why_short,
        )  # fmt: skip
        short = say("{got} of {planned} done. The sample is short.", got=sample.got, planned=sample.planned)
        blocked = say_count(
            "{n} of these readings does not count. Measure a piece again.",
            "{n} of these readings do not count. Measure as many pieces again.", n=sample.got - sample.counting,
        )  # fmt: skip
        says = (*((short,) if _is_short(sample) else ()), *((blocked,) if sample.counting < sample.got else ()))
        return self._keep(act, *says)

    def countersign(self, characteristic: str, trainer: str) -> Done:
        """Keep that a trainer stands beside the person for the open sample; afterwards it has no effect.

        Raises:
            NotInSample: no sample of the characteristic is open.
            SignatureRefused: the trainer is the trainee, or is no trainer for this work by the lists here.
        """
        trainee, job = self._person(), self._job()
        sample = self._state.sample_of(characteristic)
        person = self._find_person(trainer)
        if sample is None:
            self._refuse(
                NotInSample(
                    say("Not kept: no sample of {what} is open.", what=characteristic),
                    why=say("A countersign works only inside the sample it is for."),
                    next_step=say("Begin the sample together, then countersign."),
                ),
                person=person,
            )
        levels, at = frozenset({Level.TRAINER}), self._now().astimezone(self._zone)
        is_trainer = is_qualified(person, job.operation, "*", levels, lists=self._lists, at=at)
        if person == trainee or (self._are_lists_fresh() and not is_trainer):
            self._refuse(
                SignatureRefused(
                    say("Not countersigned by {person}.", person=person),
                    why=say("A countersign is another person's, and that person is a trainer for this work."),
                    next_step=say("Call a trainer for this work while the sample is open."),
                ),
                by_rule="X65",
                person=person,
            )
        act = Countersign(
            trainee=trainee, lot=sample.lot, operation=sample.operation, characteristic=characteristic,
            sample=sample.number,
        )  # fmt: skip
        return self._keep(act, person=person)

    def _next_number(self, job: Job, what: Characteristic) -> int:
        """Return the sample's number: that of the round under way, or the next.

        Characteristics measured in one round share its number. A round is under way while its last reading is not
        older than half the sampling interval (or the idle time, where the plan has no interval).
        """
        known = self._state.rounds.get((job.lot, job.operation))
        if known is None:
            return 1
        half_min = what.interval_min / 2 if what.interval_min else self._settings.station_idle_min
        is_under_way = self._now() - known.last_at <= timedelta(minutes=half_min)
        return known.number if is_under_way and what.number not in known.characteristics else known.number + 1

    def _told_before(self, characteristic: str) -> tuple[Said, ...]:
        """Return what is to be known before the first piece: a gauge that went out at midnight, and its swap."""
        taken = self._state.gauge_for(characteristic)
        if taken is None:
            return ()
        what = self._characteristic(characteristic)
        return self.warnings(self._speaks_against(what, taken.gauge, taken.master), taken.gauge)


def _is_short(sample: Sample) -> bool:
    return sample.got < sample.planned


def _rework_refusal() -> ReworkRefused:
    return ReworkRefused(
        say("Not begun: a damaged rolled thread is not measured again after work on it."),
        why=say("Cutting, filing or rolling it again takes its strength with nothing to see. It is scrap."),
        next_step=say("Tag the pieces, lock them away as scrap with a witness, and call QC."),
    )
