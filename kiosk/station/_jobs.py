"""The job: lot and operation, changeover, heat, stops, counts and remarks."""

from collections.abc import Callable
from typing import Literal

from kiosk.errors import LotNotKnown, PlanNotHere
from kiosk.judge import is_qualified
from kiosk.lists import Characteristic, Lists, Lot, Plan
from kiosk.lists.words import Level
from kiosk.pages import Act, Signature
from kiosk.pages.readings import Correction
from kiosk.pages.station import (
    AcceptanceBegun,
    AcceptanceSigned,
    Changeover,
    HeatScan,
    JobOpen,
    ListsTaken,
    MachineCounter,
    OutOfHeat,
    PieceCount,
    Remark,
    StopBegin,
    StopEnd,
)
from kiosk.said import Said, say
from kiosk.station._badges import Badges
from kiosk.station._exchange import Done
from kiosk.times import write_time

StopReason = Literal["break", "no material", "breakdown", "wheel dress", "cleaning", "set-up", "other"]


class Jobs(Badges):
    """What is worked at the station."""

    def open_job(
        self,
        lot: str,
        operation: str,
        *,
        part: str | None = None,
        is_typed: bool = False,
        measured_anyway: bool = False,
    ) -> Done:
        """Open the job of a scanned traveller; `part` is what its label says, needed only for a lot not on the lists.

        Raises:
            LotNotKnown: lot and part are both unknown here, or the label is of another part.
            PlanNotHere: this kiosk has no plan for the operation.
        """
        self._person()
        number = self._read_number(lot, (row.number for row in self._lists.lots), is_typed=is_typed)
        known = self._lists.lot(number)
        part_number = self._part_of(number, known, part, measured_anyway=measured_anyway)
        revision = self._revision(part_number, number)
        plan = self._lists.plan(part_number, revision, operation, self._now())
        if plan is None:
            self._refuse(
                PlanNotHere(
                    say("Not opened: operation {operation} has no plan here.", operation=operation),
                    why=say(
                        "This kiosk's lists have none for part {part} revision {revision}.",
                        part=part_number,
                        revision=revision,
                    ),
                    next_step=say("Use the paper form and call the lead."),
                )
            )
        told = self._told_of_job(number, known, operation)
        set_up = self._state.set_up_of(operation)
        act = JobOpen(
            lot=number, operation=operation, part=part_number, revision=revision, plan_version=plan.version,
            set_up=None if set_up is None else set_up.number, typed=is_typed,
        )  # fmt: skip
        return self._keep(act, *told)

    def change_over(self, to_lot: str, *, is_line_clear: bool, words: str = "") -> Done:
        """Log that one lot ends here and the next begins, with the line cleared or not."""
        job = self._state.job
        act = Changeover(
            from_lot=None if job is None else job.lot, to_lot=to_lot, is_line_clear=is_line_clear, words=words
        )
        says = (
            ()
            if is_line_clear
            else (say("STOP. Clear the line before {lot} starts: mixed lots cannot be sorted by eye.", lot=to_lot),)
        )
        return self._keep(act, *says, person=self._person())

    def stop(self, reason: StopReason, *, words: str = "") -> Done:
        """Log that the machine stopped; the sampling clock stands from here."""
        job = self._state.job
        return self._keep(StopBegin(reason=reason, lot=None if job is None else job.lot, words=words))

    def run_again(self) -> Done:
        """Log that the machine runs again."""
        job = self._state.job
        return self._keep(StopEnd(lot=None if job is None else job.lot))

    def out_of_heat(self, *, tote: str | None = None, piece: int | None = None, out_at: str | None = None) -> Done:
        """Log that pieces came out of heat, now or at `out_at` (local time with offset)."""
        act = OutOfHeat(lot=self._job().lot, out_at=out_at or write_time(self._now()), tote=tote, piece=piece)
        wait = say(
            "Hot parts read large and burn. Measure cold: wait {minutes} min or use the thermometer.",
            minutes=self._numbers().cool_down_min,
        )
        return self._keep(act, wait)

    def scan_heat(self, heat: str, *, is_typed: bool = False) -> Done:
        """Log the heat number on the material for the job's lot; another heat is told at once."""
        job = self._job()
        lot = self._lists.lot(job.lot)
        is_other = lot is not None and lot.heat is not None and lot.heat != heat
        says = (
            say(
                "STOP. Heat {heat} does not belong to {lot}. Segregate, do not sort by eye, call QC.",
                heat=heat,
                lot=job.lot,
            ),
        )
        return self._keep(HeatScan(lot=job.lot, heat=heat, typed=is_typed), *(says if is_other else ()))

    def count_pieces(self, *, pieces_in: int, good: int, scrap: int, test: int = 0, in_hand: int = 0) -> Done:
        """Log the quantity balance at the end of the operation, in pieces."""
        job = self._job()
        act = PieceCount(
            lot=job.lot,
            operation=job.operation,
            pieces_in=pieces_in,
            good=good,
            scrap=scrap,
            test=test,
            in_hand=in_hand,
        )
        found = good + scrap + test + in_hand
        says = (
            say(
                "The pieces do not add up: {found} found, {wanted} came in. Count again.", found=found, wanted=pieces_in
            ),
        )
        return self._keep(act, *(says if found != pieces_in else ()))

    def read_counter(self, machine: str, at: Literal["start", "end"], pieces: int) -> Done:
        """Log the machine's own piece counter at the start or end of a shift."""
        return self._keep(MachineCounter(machine=machine, at=at, pieces=pieces))

    def remark(self, words: str, *, about: str | None = None) -> Done:
        """Keep words, about a page (`S12-a/1877`) or about nothing in particular."""
        return self._keep(Remark(words=words, about=about))

    def correct(self, correction: Correction) -> Done:
        """Write a correction page on a finished reading; the old page stays as it was, and its verdict with it."""
        told = say("Kept beside the old value. The old verdict stands until QC has settled it.")
        return self._keep(correction, told, person=self._person())

    def take_lists(self, lists_taken: ListsTaken, lists: Lists, *, taken_at: str) -> Done:
        """Work with fresh lists from here; what was judged before stays as it was judged."""
        self._lists, self._lists_taken_at = lists, taken_at
        return self._keep(lists_taken)

    def begin_acceptance(self) -> Done:
        """Begin the acceptance run on the training lot that is open."""
        return self._keep(AcceptanceBegun(lot=self._job().lot))

    def sign_acceptance(self, act: AcceptanceSigned, person: str, sign: Callable[[Act], Signature]) -> Done:
        """Keep that a person says what came out of the run."""
        return self._keep(act.model_copy(update={"signature": sign(act)}), person=person)

    def may_sign_acceptance(self, person: str, level: Level) -> bool:
        """True when the lists here name `person` as a quality manager, or as a calibrator, now."""
        at = self._now().astimezone(self._zone)
        return is_qualified(person, "*", "*", frozenset({level}), lists=self._lists, at=at)

    def characteristics(self) -> tuple[Characteristic, ...]:
        """Return what the plan of the open job measures now, in plan order; empty without a job."""
        job = self._state.job
        if job is None:
            return ()
        revision, now = self._revision(job.part, job.lot), self._now()
        rows = self._lists.characteristics_of(job.part, revision, job.operation)
        return tuple(row for row in rows if self._lists.characteristic(row.part, revision, row.number, now) is row)

    def plan(self) -> Plan | None:
        """Return the plan of the open job as in force now."""
        job = self._state.job
        if job is None:
            return None
        return self._lists.plan(job.part, self._revision(job.part, job.lot), job.operation, self._now())

    def _part_of(self, number: str, known: Lot | None, part: str | None, *, measured_anyway: bool) -> str:
        if known is None and part is None:
            self._refuse(
                LotNotKnown(
                    say("Not opened: lot {lot} is not on this kiosk's lists.", lot=number),
                    why=say("It may be newer than the lists, or its number was read wrong."),
                    next_step=say("Scan the part number on the traveller to go on. QC settles the lot."),
                ),
                by_rule="X44",
            )
        is_other = known is not None and part is not None and known.part != part
        if is_other and self._are_lists_fresh() and not measured_anyway:
            self._refuse(
                LotNotKnown(
                    say("Not opened: lot {lot} is of another part than {part}.", lot=number, part=part),
                    why=say("A lot measured by another part's plan proves nothing."),
                    next_step=say("Check the label on the tote and scan the right traveller."),
                ),
                by_rule="X45",
            )
        return part if part is not None else known.part if known is not None else number

    def _told_of_job(self, lot: str, known: Lot | None, operation: str) -> tuple[Said, ...]:
        told = []
        if known is None:
            told.append(
                say("Lot {lot} is not on the lists here. Readings are kept and wait until QC knows the lot.", lot=lot)
            )
        elif known.is_training:
            told.append(say("Training lot: its numbers are invented. Never use them as limits."))
        before = self._state.job
        if before is not None and before.lot != lot and self._state.cleared_for != lot:
            told.append(say("No line clearance is logged for {lot}. Clear the line first.", lot=lot))
        station = self._lists.station(self._number, self._now())
        if station is not None and operation not in station.operations:
            told.append(say("Operation {operation} is not on this station's list.", operation=operation))
        return tuple(told)
