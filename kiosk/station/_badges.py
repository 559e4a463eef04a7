"""Badge in, taking over, badge out; and what a person is told at the door."""

from datetime import datetime, timedelta

from kiosk.errors import BadgeRefused
from kiosk.judge import due_ends_utc
from kiosk.lists import Gauge, Person
from kiosk.lists.words import GaugeState
from kiosk.pages.station import BadgeIn, BadgeOut
from kiosk.station._core import Core
from kiosk.station._exchange import Done
from kiosk.station._said import Said, say
from kiosk.times import read_time, shift_bounds_utc, shift_of


class Badges(Core):
    """Who stands at the station."""

    def badge_in(self, badge: str) -> Done:
        """Begin at the station with a badge (or a person's number); with somebody else there it is taking over.

        The job and its samples stay open; gauges are scanned again by the new person.

        Raises:
            BadgeRefused: the badge's owner has left.
        """
        person = self._find_person(badge)
        before = self._state.person
        is_taking_over = before is not None and before != person
        if is_taking_over:
            self._keep_page(BadgeOut(why="taken over"), before)
        told = (*self._unknown_person(person), *self._told_at_the_door())
        shift = shift_of(self._now(), self._zone)[1]
        act = BadgeIn(
            shift=shift, told=tuple(str(one) for one in told), takes_over_from=before if is_taking_over else None
        )
        return self._keep(act, *told, person=person)

    def badge_out(self) -> Done:
        """End at the station; unfinished samples wait."""
        return self._keep(BadgeOut(), *self._unfinished(), person=self._person())

    def time_out(self) -> Done:
        """End for a person who walked away; unfinished samples wait."""
        return self._keep(BadgeOut(why="timed out"), person=self._person())

    def reminders(self) -> tuple[Said, ...]:
        """Return what is to be said now without anybody having done anything: gauges about to go out, a badge tap."""
        now = self._now()
        wanted = timedelta(minutes=self._settings.station_badge_reminder_min)
        is_long = self._state.badged_at is not None and now - self._state.badged_at > wanted
        tap = (say("Tap your badge: is it still you?"),) if is_long else ()
        soon = timedelta(minutes=self._settings.station_out_warning_min)
        return (*self._gauge_news(now, until=now + soon, numbers={t.gauge for t in self._state.gauges}), *tap)

    def _find_person(self, badge: str) -> str:
        at = self._now()
        people = self._lists.people
        found = next((p for p in people if badge in p.badges or badge == p.number), None)
        if found is None:
            return badge
        if _has_left(found, at):
            self._refuse(
                BadgeRefused(
                    say("Not badged in: badge {badge} is no longer in use.", badge=badge),
                    why=say("Its owner has left the plant."),
                    next_step=say("Use your own badge. If it is yours, call the lead."),
                )
            )
        return found.number

    def _unknown_person(self, person: str) -> tuple[Said, ...]:
        if self._lists.person(person) is not None:
            return ()
        return (
            say(
                "Badge {badge} is not on this kiosk's lists. Readings are kept; the lead clears it later.", badge=person
            ),
        )

    def _told_at_the_door(self) -> tuple[Said, ...]:
        now = self._now()
        ends = shift_bounds_utc(*shift_of(now, self._zone), self._zone)[1]
        here = {g.number for g in self._lists.gauges if g.home_station == self._number} | self._state.issued
        return (*self._gauge_news(now, until=ends, numbers=here), *self._unfinished(), *self._age_of_lists())

    def _gauge_news(self, now: datetime, *, until: datetime, numbers: set[str] | frozenset[str]) -> tuple[Said, ...]:
        """Return a sentence for each gauge that is out, or goes out not after `until`."""
        news = []
        for number in sorted(numbers):
            gauge = self._lists.gauge(number, now)
            if gauge is None or gauge.state is not GaugeState.IN_USE:
                continue
            ends = due_ends_utc(gauge, self._lists, self._zone)
            if ends is not None and ends <= until:
                news.append(self._due_sentence(gauge, ends, now))
        return tuple(news)

    def _due_sentence(self, gauge: Gauge, ends: datetime, now: datetime) -> Said:
        local = ends.astimezone(self._zone)
        is_midnight = (local.hour, local.minute) == (0, 0)
        swap = self._swap_of(gauge, now)
        if ends <= now:
            return say("{gauge} is out: due {due}. Do not use it. {swap}", gauge=gauge.number, due=gauge.due, swap=swap)
        if is_midnight:
            return say("{gauge} goes out at midnight. {swap}", gauge=gauge.number, swap=swap)
        return say("{gauge} goes out at {time}. {swap}", gauge=gauge.number, time=f"{local:%H:%M}", swap=swap)

    def _swap_of(self, gauge: Gauge, now: datetime) -> Said:
        partner = None if gauge.swap_partner is None else self._lists.gauge(gauge.swap_partner, now)
        if partner is None:
            return say("No swap partner is listed: call the calibration room.")
        if partner.drawer is None:
            return say("Swap: {gauge}.", gauge=partner.number)
        return say("Swap: {gauge} in drawer {drawer}.", gauge=partner.number, drawer=partner.drawer)

    def _unfinished(self) -> tuple[Said, ...]:
        return tuple(
            say(
                "{what}, lot {lot}: {got} of {planned} done \N{EN DASH} piece {piece} next.",
                what=s.characteristic, lot=s.lot, got=s.got, planned=s.planned, piece=s.next_piece,
            )
            for s in self._state.samples
            if s.got < s.planned
        )  # fmt: skip

    def _age_of_lists(self) -> tuple[Said, ...]:
        age, numbers = self._lists_age(), self._numbers()
        if age is None or age <= timedelta(hours=numbers.lists_caution_h):
            return ()
        hours = int(age.total_seconds() // 3600)
        if self._are_lists_too_old_to_sign():
            return (say("The lists here are {hours} h old: readings go on, approvals are refused.", hours=hours),)
        return (say("The lists here are {hours} h old. Carry this kiosk when you can.", hours=hours),)


def _has_left(person: Person, at: datetime) -> bool:
    return person.left_at is not None and read_time(person.left_at) <= at
