"""Gauges at a station: taken up, checked on their master, knocked, moved."""

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import Final, Literal

from kiosk.errors import GaugeRefused, StepMissing
from kiosk.judge import Around, Figures, Given, HeatNote, Scene, fit_reasons, gauge_reasons, is_qualified, limits_in
from kiosk.lists import Characteristic, Gauge
from kiosk.lists.words import GaugeKind, Level
from kiosk.measure import units
from kiosk.pages.station import GaugeIncident, GaugeMovement, GaugeScan
from kiosk.pages.words import CheckVerdict, GaugeIncidentKind, KeyedAs, SampleKind
from kiosk.said import Said, say
from kiosk.station._advance import with_gauge
from kiosk.station._exchange import Done
from kiosk.station._jobs import Jobs
from kiosk.station._said import warnings_of
from kiosk.times import production_day, read_time, shift_of

Movement = Literal["issued", "borrowed", "returned", "sent out", "found", "not found"]
_REFUSED_BY: Final = ("X19", "X18", "X16", "X17")
"""Reasons a gauge is not taken for, the clearest first; only while the lists are fresh (decision 0016)."""


class Gauges(Jobs):
    """The gauges in hand and what is known of them."""

    def take_gauge(
        self,
        characteristic: str,
        gauge: str,
        *,
        master: str | None = None,
        typed: tuple[Literal["gauge", "master"], ...] = (),
        measured_anyway: bool = False,
    ) -> Done:
        """Take a scanned gauge for a characteristic, with the wire set or master where its kind needs one.

        What speaks against it is told; the readings are kept all the same and blocked where the rules say so.

        Raises:
            GaugeRefused: it cannot do this measurement, and the lists are fresh enough to say so.
            NumberMistyped: a typed number fails its check character.
        """
        self._person()
        what = self._characteristic(characteristic)
        number = self._read_number(gauge, (g.number for g in self._lists.gauges), is_typed="gauge" in typed)
        master_number = self._master_for(number, master, is_typed="master" in typed)
        scene = self._gauge_scene(what, number, master_number)
        found = self._speaks_against(what, number, master_number)
        refused_by = next((reason for reason in _REFUSED_BY if reason in found), None)
        if refused_by is not None and self._are_lists_fresh() and not measured_anyway:
            self._refuse(_gauge_refusal(refused_by, scene), by_rule=refused_by)
        act = GaugeScan(
            gauge=number, characteristic=characteristic, master=master_number, typed=bool(typed), told=tuple(found)
        )
        done = self._keep(act, *self.warnings(found, number))
        taken = self._state.gauge_for(characteristic)
        if taken is not None:
            self._state = with_gauge(self._state, taken.model_copy(update={"typed": typed}))
        return done

    def report_incident(
        self, gauge: str, what: GaugeIncidentKind = GaugeIncidentKind.DROPPED, *, words: str = ""
    ) -> Done:
        """Keep in one tap that something befell a gauge; nobody is blamed, and nobody need be badged in."""
        thanks = say(
            "Thank you. Put {gauge} aside and tag it; it is checked before anybody uses it again.", gauge=gauge
        )
        known = self._lists.gauge(gauge, self._now())
        swap = () if known is None else (self._swap_of(known, self._now()),)
        return self._keep(GaugeIncident(gauge=gauge, what=what, words=words), thanks, *swap)

    def move_gauge(
        self, gauge: str, movement: Movement, *, to_station: str | None = None, to_person: str | None = None
    ) -> Done:
        """Keep that custody of a gauge moved."""
        return self._keep(GaugeMovement(gauge=gauge, movement=movement, to_station=to_station, to_person=to_person))

    def gauge(self, number: str) -> Gauge | None:
        """Return a gauge's row of the register as in force now."""
        return self._lists.gauge(number, self._now())

    def gauges_here(self) -> tuple[Gauge, ...]:
        """Return the gauges kept at this station or issued to it, in order of number."""
        now = self._now()
        numbers = {g.number for g in self._lists.gauges if g.home_station == self._number} | self._state.issued
        found = (self._lists.gauge(number, now) for number in sorted(numbers))
        return tuple(gauge for gauge in found if gauge is not None)

    def warnings(self, reasons: Iterable[str], gauge: str | None) -> tuple[Said, ...]:
        """Return what is said for each reason, STOP first, and the swap partner where the gauge must go."""
        found = tuple(reasons)
        register = None if gauge is None else self._lists.gauge(gauge, self._now())
        wants_swap = not {"X01", "X02", "X04", "X05"}.isdisjoint(found)
        swap = (self._swap_of(register, self._now()),) if wants_swap and register is not None else ()
        return (*warnings_of(found, gauge or ""), *swap)

    def around(self, gauge: str | None, operation: str, *, sample_kind: SampleKind = SampleKind.RUN) -> Around:
        """Return what this station knows beside the lists, for a reading with `gauge` now."""
        state, now = self._state, self._now()
        set_up = state.set_up_of(operation)
        job = state.job
        plan = None
        if job is not None:
            revision = self._revision(job.part, job.lot)
            plan = self._lists.plan(job.part, revision, operation, now)
        is_approved = (
            set_up is not None and set_up.state == "Approved" and self._may_approve(set_up.approved_by, operation)
        )
        return Around(
            station=self._number,
            lists_taken_at=None if self._lists_taken_at is None else read_time(self._lists_taken_at),
            is_gauge_issued_here=gauge in state.issued,
            is_first_piece_missing=plan is not None
            and plan.needs_first_piece
            and sample_kind is SampleKind.RUN
            and not is_approved,
            is_set_up_hot=set_up is not None and set_up.is_hot,
            **({} if gauge is None else self._checks_missing(gauge)),
        )

    def _may_approve(self, person: str | None, operation: str) -> bool:
        """True when the lists here name `person` as a first-piece approver of the operation now."""
        levels, at = frozenset({Level.FIRST_PIECE}), self._now().astimezone(self._zone)
        return person is not None and is_qualified(person, operation, "*", levels, lists=self._lists, at=at)

    def _checks_missing(self, number: str) -> dict[str, bool]:
        now = self._now()
        gauge, check = self._lists.gauge(number, now), self._state.checks.get(number)
        befell = self._state.incidents.get(number)
        found = {"is_gauge_in_doubt": befell is not None and not self._is_good_since(number, befell)}
        if gauge is None:
            return found
        is_failed = check is not None and check.last_verdict is CheckVerdict.FAILED
        if gauge.kind.needs_day_check:
            is_good_today = check is not None and check.good_day == production_day(now, self._zone)
            found["is_day_check_missing"] = is_failed or not is_good_today
        else:
            found["is_zero_check_failed"] = is_failed
        if gauge.kind.is_comparator:
            mine = (self._state.person, *shift_of(now, self._zone))
            found["is_zero_check_missing"] = check is None or mine not in check.by
            late_s = self._numbers().zero_check_late_min * 60
            good_at = None if check is None else check.good_at
            found["is_zero_check_late"] = good_at is not None and (now - good_at).total_seconds() > late_s
        return found

    def _is_good_since(self, gauge: str, befell: datetime) -> bool:
        """True when the gauge was checked good, here or in the calibration room, after something befell it."""
        check = self._state.checks.get(gauge)
        if check is not None and check.good_at is not None and check.good_at > befell:
            return True
        calibration = self._lists.last_calibration(gauge, self._now())
        if calibration is None or read_time(calibration.done_at) <= befell:
            return False
        return "Good" in (calibration.as_found, calibration.as_left)

    def _speaks_against(self, what: Characteristic, gauge: str, master: str | None) -> list[str]:
        """Return every reason against a gauge that can be told before anything is measured with it."""
        scene = self._gauge_scene(what, gauge, master)
        return sorted({*gauge_reasons(scene), *fit_reasons(scene), *(("X17",) if _cannot_reach(scene) else ())})

    def _gauge_scene(self, what: Characteristic, gauge: str, master: str | None) -> Scene:
        job, now = self._job(), self._now()
        given = Given(
            lot=job.lot, part=job.part, operation=job.operation, characteristic=what, keyed="",
            keyed_as=KeyedAs.VALUE, unit=what.unit, gauge=gauge, master=master, heat=HeatNote(),
            person=self._state.person,
        )  # fmt: skip
        return Scene(
            given=given, figures=Figures(), lists=self._lists, numbers=self._numbers(),
            around=self.around(gauge, job.operation), moment=now, zone=self._zone,
        )  # fmt: skip

    def _master_for(self, gauge: str, master: str | None, *, is_typed: bool) -> str | None:
        """Return the master or wire set scanned; over wires needs one, a comparator has the one it is set on."""
        if master is not None:
            return self._read_number(master, (m.number for m in self._lists.masters), is_typed=is_typed)
        known = self._lists.gauge(gauge, self._now())
        if known is None:
            return None
        if known.kind is GaugeKind.OVER_WIRES:
            self._refuse(
                StepMissing(
                    say("Not taken yet: scan the wire set too.", gauge=gauge),
                    why=say("The pitch diameter is made from the certified size of the wires in use."),
                    next_step=say("Scan the code on the wire set, then {gauge} again.", gauge=gauge),
                )
            )
        return known.master if known.kind.is_comparator else None


def _cannot_reach(scene: Scene) -> bool:
    """True when no value inside the limits lies in the gauge's range, e.g. a 1-2 in micrometer for a small shank."""
    gauge, characteristic = scene.gauge, scene.given.characteristic
    if gauge is None or gauge.kind.is_comparator or characteristic.rule:
        return False
    limits = limits_in(characteristic, characteristic.unit)
    unit = gauge.unit or characteristic.unit
    if limits is None or not units.are_alike(characteristic.unit, unit):
        return False

    def in_one(figure: str | None) -> Decimal | None:
        return None if figure is None else units.in_one_unit(Decimal(figure), unit, other=characteristic.unit)

    low, high = in_one(gauge.range_low), in_one(gauge.range_high)
    lower, upper = limits.lower, limits.upper
    return (low is not None and upper is not None and upper < low) or (
        high is not None and lower is not None and lower > high
    )


def _gauge_refusal(reason: str, scene: Scene) -> GaugeRefused:
    gauge, what = scene.given.gauge, scene.given.characteristic.name
    why = {
        "X16": say("Its smallest division is too coarse for the tolerance of {what}.", what=what),
        "X17": say("Its range does not reach {what}.", what=what),
        "X18": say("The plan does not allow this kind of gauge for {what}.", what=what),
        "X19": say("It is made for another thread, class or member than {what}, or the wires are.", what=what),
    }[reason]
    return GaugeRefused(
        say("STOP. {gauge} was not taken for {what}.", gauge=gauge, what=what),
        why=why,
        next_step=say("Take the gauge the plan names. If you measured with it all the same, say so and key it."),
    )
