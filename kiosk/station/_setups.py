"""Set-ups: begun, changed, ended, and their first pieces approved by another person."""

from kiosk.errors import SignatureRefused, StepMissing
from kiosk.pages import Signature
from kiosk.pages.station import FirstPieceApproval, SetUpChange, SetUpEnd, SetUpStart
from kiosk.station._advance import is_approval_void
from kiosk.station._checks import Checks
from kiosk.station._exchange import Done
from kiosk.station._said import Said, say


class SetUps(Checks):
    """What the machine is set up for, and whether somebody else found the first pieces right."""

    def begin_set_up(self, set_up: SetUpStart) -> Done:
        """Begin a set-up; run readings count only after its first pieces are approved."""
        told = say("Measure first pieces, then have them approved by an inspector. Run no pieces before that.")
        return self._keep(set_up, told, person=self._person())

    def change_set_up(self, change: SetUpChange) -> Done:
        """Log that the set-up was touched; approval and proof end here."""
        told = say("The set-up was changed: new first pieces have to be approved before the run goes on.")
        return self._keep(change, told, person=self._person())

    def end_set_up(self, end: SetUpEnd) -> Done:
        """Log that the set-up ended."""
        return self._keep(end, person=self._person())

    def approve_first_piece(
        self, set_up: str, approver: str, *, is_approved: bool, conditions: str = "", signature: Signature | None = None
    ) -> Done:
        """Keep an inspector's decision on the first pieces; it works from now on, never backwards.

        An approval by the setter or by who ran it is kept and told to be void: close of day blocks what rests on it.

        Raises:
            SignatureRefused: this kiosk's lists are too old to know who may approve (N3).
            StepMissing: no such set-up is open here.
        """
        person = self._find_person(approver)
        if self._are_lists_too_old_to_sign():
            self._refuse(
                SignatureRefused(
                    say("Not signed: the lists here are older than seven days."),
                    why=say("This kiosk cannot know who may approve today."),
                    next_step=say("Carry this kiosk by network or stick, then sign. Readings go on meanwhile."),
                ),
                person=person,
            )
        known = next((s for s in self._state.set_ups if s.number == set_up), None)
        job = self._state.job
        if known is None:
            self._refuse(
                StepMissing(
                    say("Not signed: set-up {set_up} is not open at this station.", set_up=set_up),
                    why=say("An approval belongs to one set-up."),
                    next_step=say("Begin the set-up here, measure its first pieces, then sign."),
                ),
                person=person,
            )
        revision = self._revision(known.part, known.lot if job is None else job.lot)
        act = FirstPieceApproval(
            set_up=set_up, part=known.part, revision=revision, operation=known.operation,
            readings=known.first_pieces, result="Approved" if is_approved else "Refused", conditions=conditions,
            signature=signature,
        )  # fmt: skip
        void = self._why_void(set_up, person, known.operation) if is_approved else ()
        return self._keep(act, *void, person=person)

    def _why_void(self, set_up: str, approver: str, operation: str) -> tuple[Said, ...]:
        """Return why an approval has no effect, as far as this station knows (X54)."""
        if is_approval_void(self._state, set_up, approver):
            return (say("STOP. Who set up or ran this machine cannot approve it. Call an inspector."),)
        if not self._may_approve(approver, operation):
            return (say("STOP. {person} is not on the list of approvers here. Call an inspector.", person=approver),)
        return ()
