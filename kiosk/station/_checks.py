"""What is checked before the work is believed: a gauge on its master or block, a set-up by another person's eyes."""

from collections.abc import Callable
from datetime import datetime
from decimal import ROUND_DOWN, Context, Decimal
from typing import Final, NoReturn

from kiosk.errors import PersonCanMend, SignatureRefused, StepMissing
from kiosk.judge import comparable_in, limits_in, size_in
from kiosk.lists import Characteristic, Gauge, Master
from kiosk.measure import decimals, units
from kiosk.pages import Signature
from kiosk.pages.readings import Check
from kiosk.pages.station import FirstPieceApproval, SetUpChange, SetUpEnd, SetUpStart
from kiosk.pages.words import CheckKind, CheckVerdict, KeyedAs, Source
from kiosk.said import Said, say
from kiosk.station._advance import is_approval_void
from kiosk.station._exchange import Done
from kiosk.station._gauges import Gauges

_CUT: Final = Context(prec=60, rounding=ROUND_DOWN)
_BILLIONTH: Final = Decimal("1e-9")


class Checks(Gauges):
    """Checks that a gauge reads true, before it is believed."""

    def check_zero(
        self,
        gauge: str,
        keyed: str,
        *,
        master: str | None = None,
        keyed_as: KeyedAs = KeyedAs.DEVIATION,
        source: Source | None = None,
    ) -> Done:
        """Check a gauge's zero on its master: what it shows there, as deviation, divisions or whole value.

        It fails when the error is larger than a tenth of the tightest tolerance measured with it (N7), but never
        for less than one least count.

        Raises:
            NotANumber: what was keyed is no figure.
            StepMissing: gauge or master is not on the lists, so there is nothing to check against.
        """
        known = self._known_gauge(gauge)
        number = master or known.master
        error = self._figure(keyed)
        if keyed_as is KeyedAs.DIVISIONS:
            error = decimals.multiply(error, self._least_count(known))
        elif keyed_as is KeyedAs.VALUE:
            error = decimals.subtract(error, self._size_of(self._known_master(number, gauge), known))
        limit, named = self._zero_limit(known, None if number is None else self._lists.master(number, self._now()))
        told = {"check_kind": CheckKind.ZERO, "keyed": keyed, "keyed_as": keyed_as, "characteristics": named}
        return self._keep_check({**told, "master": number, "source": source}, known, error=error, limit=limit)

    def check_day(self, gauge: str, keyed: str, *, block: str | None = None, source: Source | None = None) -> Done:
        """Do the day check of a tester or frame on its block: the value it shows, against the block's tolerance.

        A frame without a block on the lists is checked on its own zero, against one least count.

        Raises:
            NotANumber: what was keyed is no figure.
            StepMissing: tester or block is not on the lists.
        """
        known = self._known_gauge(gauge)
        number = block or known.master
        error = self._figure(keyed)
        limit = Decimal(known.permissible_error) if known.permissible_error else self._least_count(known)
        if number is not None:
            master = self._known_master(number, gauge)
            error = decimals.subtract(error, self._size_of(master, known))
            limit = limit if master.tolerance is None else Decimal(master.tolerance)
        keyed_as = KeyedAs.VALUE if number is not None else KeyedAs.DEVIATION
        told = {"check_kind": CheckKind.DAY, "keyed": keyed, "keyed_as": keyed_as}
        return self._keep_check({**told, "master": number, "source": source}, known, error=error, limit=limit)

    def _keep_check(self, told: dict[str, object], gauge: Gauge, *, error: Decimal, limit: Decimal) -> Done:
        """Judge a check of which `told` holds what was keyed, and keep it."""
        is_good = abs(error) <= limit
        judged = {
            "gauge": gauge.number, "unit": gauge.unit or "in", "error": decimals.write_figure(error),
            "limit": decimals.write_figure(limit), "verdict": CheckVerdict.GOOD if is_good else CheckVerdict.FAILED,
        }  # fmt: skip
        act = Check.model_validate({**told, **judged})
        return self._keep(act, *self._said_of(act.check_kind, act.gauge, is_good=is_good), person=self._person())

    def _said_of(self, kind: CheckKind, gauge: str, *, is_good: bool) -> tuple[Said, ...]:
        if is_good:
            return (say("Good. {gauge} may be used.", gauge=gauge),)
        if kind is CheckKind.ZERO:
            return (say("STOP. {gauge} is off zero. Clean it, zero it on the master and check again.", gauge=gauge),)
        return (
            say("STOP. {gauge} failed its day check. Do not test with it; call the calibration room.", gauge=gauge),
        )

    def _zero_limit(self, gauge: Gauge, master: Master | None) -> tuple[Decimal, tuple[str, ...]]:
        """Return the largest zero error that is good, and the characteristics with the tightest tolerance (N7)."""
        unit, least = gauge.unit or "in", self._least_count(gauge)
        tolerances = [
            (tolerance, what) for what in self._measured_with(gauge, master) if (tolerance := _tolerance(what, unit))
        ]
        if not tolerances:
            return least, ()
        tightest = min(tolerance for tolerance, _ in tolerances)
        named = tuple(f"{what.part}:{what.number}" for tolerance, what in tolerances if tolerance == tightest)
        share = decimals.multiply(tightest, self._numbers().zero_error_percent.scaleb(-2))
        return max(share, least), named

    def _measured_with(self, gauge: Gauge, master: Master | None) -> list[Characteristic]:
        """Return the characteristics measured with the gauge: those of the open job; without a job, of any plan."""
        job, now = self._state.job, self._now()
        rows = [
            what
            for what in self._lists.characteristics
            if gauge.kind in what.gauge_kinds and _is_in_reach(gauge, master, what) and self._is_in_force(what, now)
        ]
        here = [what for what in rows if job is not None and (what.part, what.operation) == (job.part, job.operation)]
        return here or rows

    def _is_in_force(self, what: Characteristic, now: datetime) -> bool:
        part = self._lists.part(what.part, now)
        is_revision = part is None or part.revision == what.revision
        return is_revision and self._lists.characteristic(what.part, what.revision, what.number, now) is what

    def _figure(self, keyed: str) -> Decimal:
        try:
            return decimals.to_decimal(decimals.read_figure(keyed))
        except PersonCanMend as error:
            self._refuse(error)

    def _known_gauge(self, number: str) -> Gauge:
        found = self._lists.gauge(number, self._now())
        return found if found is not None else self._nothing_to_check(number)

    def _known_master(self, number: str | None, gauge: str) -> Master:
        found = None if number is None else self._lists.master(number, self._now())
        return found if found is not None and found.size is not None else self._nothing_to_check(number or gauge)

    def _nothing_to_check(self, number: str) -> NoReturn:
        self._refuse(
            StepMissing(
                say("Not checked: {number} is not on this kiosk's lists.", number=number),
                why=say("Without its certified size there is nothing to check against."),
                next_step=say("Scan the gauge and its own master again. If it stays so, call the calibration room."),
            )
        )

    def _least_count(self, gauge: Gauge) -> Decimal:
        return Decimal(gauge.least_count) if gauge.least_count else Decimal(0)

    def _size_of(self, master: Master, gauge: Gauge) -> Decimal:
        size = size_in(master, gauge.unit or "in")
        return size if size is not None else self._nothing_to_check(master.number)


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
        self,
        set_up: str,
        approver: str,
        *,
        is_approved: bool,
        conditions: str = "",
        sign: Callable[[FirstPieceApproval], Signature] | None = None,
    ) -> Done:
        """Keep an inspector's decision on the first pieces; it works from now on, never backwards.

        `sign` sets the approver's signature under the act as it is kept; without one it is by badge alone.
        An approval by the setter or by who ran it is kept and told to be void: close of day blocks what rests on it.

        Raises:
            SignatureRefused: this kiosk's lists are too old to know who may approve (N3), or `sign` refused.
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
        )  # fmt: skip
        if sign is not None:
            try:
                act = act.model_copy(update={"signature": sign(act)})
            except SignatureRefused as error:
                self._refuse(error, person=person)
        void = self._why_void(set_up, person, known.operation) if is_approved else ()
        return self._keep(act, *void, person=person)

    def _why_void(self, set_up: str, approver: str, operation: str) -> tuple[Said, ...]:
        """Return why an approval has no effect, as far as this station knows (X54)."""
        if is_approval_void(self._state, set_up, approver):
            return (say("STOP. Who set up or ran this machine cannot approve it. Call an inspector."),)
        if not self._may_approve(approver, operation):
            return (say("STOP. {person} is not on the list of approvers here. Call an inspector.", person=approver),)
        return ()


def _tolerance(what: Characteristic, unit: str) -> Decimal | None:
    """Return the tolerance in `unit`; from another unit cut to 9 decimals, so that no check is made easier by it."""
    limits = limits_in(what, what.unit)
    tolerance = None if limits is None else limits.tolerance
    if tolerance is None or what.unit == unit:
        return tolerance
    if not units.are_alike(what.unit, unit):
        return None
    return _CUT.quantize(units.convert(tolerance, what.unit, to_unit=unit), _BILLIONTH)


def _is_in_reach(gauge: Gauge, master: Master | None, what: Characteristic) -> bool:
    """True when a comparator set on `master` can show a value inside the limits; unknown counts as yes."""
    unit = gauge.unit or what.unit
    size = None if master is None else size_in(master, unit)
    limits = limits_in(what, unit)
    if size is None or limits is None or gauge.range_low is None or gauge.range_high is None:
        return True
    low = decimals.add(size, Decimal(gauge.range_low))
    high = decimals.add(size, Decimal(gauge.range_high))
    is_below = limits.upper is not None and limits.upper < comparable_in(low, what, unit)
    is_above = limits.lower is not None and limits.lower > comparable_in(high, what, unit)
    return not (is_below or is_above)
