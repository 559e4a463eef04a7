"""What every act at a station shares: the book, the lists, the clock, keeping and refusing.

Owns keeping a page and moving the state on by it. Must not know any one act.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta, tzinfo
from typing import NoReturn, Protocol

from kiosk.errors import LotNotKnown, PersonCanMend, PlanNotHere, StepMissing
from kiosk.lists import Characteristic, Lists, PlantNumbers
from kiosk.measure.check_character import compact, read_typed
from kiosk.pages import Act, Page
from kiosk.pages.station import Refusal
from kiosk.pages.words import ClockState, SampleKind
from kiosk.ports import Clock
from kiosk.said import Said, say
from kiosk.settings import Settings
from kiosk.station._advance import advance, with_gauge, with_sample
from kiosk.station._exchange import Done
from kiosk.station._state import GaugeInHand, Job, Sample, State
from kiosk.times import read_time


def planned_pieces(characteristic: Characteristic, kind: SampleKind) -> int:
    """Return how many pieces the plan asks for: the acceptance number at lot acceptance, else the sample number."""
    if kind is SampleKind.ACCEPTANCE and characteristic.acceptance_n:
        return characteristic.acceptance_n
    if kind in (SampleKind.REFEREE, SampleKind.RE_MEASURE):
        return 1
    return characteristic.sample_n or 1


class Kept(Protocol):
    """The numbered book as a station needs it."""

    def keep(
        self,
        act: Act,
        *,
        person: str | None,
        lists_version: int,
        lists_taken_at: str | None,
        clock_state: ClockState,
    ) -> Page:
        """Keep one act as the next page, safely on disk before returning it."""
        ...


class Core:
    """A station's book, lists and state; the acts are in the classes built on it.

    `number` is the station. `lists_taken_at` is when this kiosk took its lists (local time text).
    `pages` are those the book already holds, oldest first, so that the work goes on where it stood.
    """

    def __init__(  # noqa: PLR0913 - the one door to a station; everything beside book and lists is named
        self,
        book: Kept,
        lists: Lists,
        *,
        number: str,
        clock: Clock,
        zone: tzinfo,
        lists_taken_at: str | None = None,
        pages: Iterable[Page] = (),
    ) -> None:
        self._book, self._lists, self._clock, self._zone = book, lists, clock, zone
        self._number, self._lists_taken_at = number, lists_taken_at
        self._settings = Settings()
        self._clock_state = ClockState.AGREED
        self._state = State()
        self.resume(pages)

    def resume(self, pages: Iterable[Page]) -> State:
        """Go on where the book's own `pages` (oldest first) left off: the same screen after a power cut."""
        for page in pages:
            self._state = advance(self._state, page, self._zone)
        samples = tuple(
            s if s.planned else s.model_copy(update={"planned": self._planned(s)}) for s in self._state.samples
        )
        self._state = self._state.model_copy(update={"samples": samples})
        return self._state

    def _planned(self, sample: Sample) -> int:
        """Return how many pieces the plan asks for in a sample; as many as there are where it does not say."""
        job, lot = self._state.job, self._lists.lot(sample.lot)
        number = job.part if job is not None and job.lot == sample.lot else None if lot is None else lot.part
        part = None if number is None else self._lists.part(number, self._now())
        if part is None:
            return sample.got
        found = self._lists.characteristic(part.number, part.revision, sample.characteristic, self._now())
        return sample.got if found is None else planned_pieces(found, sample.kind)

    @property
    def state(self) -> State:
        """Where the work stands now; a frozen value."""
        return self._state

    @property
    def zone(self) -> tzinfo:
        """The plant's time zone."""
        return self._zone

    @property
    def lists(self) -> Lists:
        """The lists this station judges with."""
        return self._lists

    @property
    def number(self) -> str:
        """The station's number."""
        return self._number

    def know_clock(self, clock_state: ClockState) -> None:
        """Take over what the kiosk knows of its own clock; every page bears it."""
        self._clock_state = clock_state

    def lists_confirmed(self, at: str) -> None:
        """Take the consolidator's word that these lists are still the newest; their age counts from `at`."""
        self._lists_taken_at = at

    def _now(self) -> datetime:
        return self._clock.now()

    def _numbers(self) -> PlantNumbers:
        return self._lists.numbers(self._now())

    def _keep(self, act: Act, *says: Said, person: str | None = None) -> Done:
        """Keep `act`, move the state on and return the page with what is to be said."""
        page = self._keep_page(act, person or self._state.person)
        return Done(page=page, say=says)

    def _keep_page(self, act: Act, person: str | None) -> Page:
        page = self._book.keep(
            act,
            person=person,
            lists_version=self._lists.version,
            lists_taken_at=self._lists_taken_at,
            clock_state=self._clock_state,
        )
        self._state = advance(self._state, page, self._zone)
        return page

    def _open_sample(self, sample: Sample, gauge: GaugeInHand | None) -> None:
        """Open a sample with the gauge in hand; it is no page of its own, its first reading makes it known."""
        self._state = with_sample(self._state, sample)
        if gauge is not None:
            self._state = with_gauge(self._state, gauge)

    def _refuse(self, error: PersonCanMend, *, by_rule: str | None = None, person: str | None = None) -> NoReturn:
        """Keep the refusal as a page with what was shown, then raise it."""
        refusal = Refusal(what=str(error.what), why=str(error.why), next_step=str(error.next_step), by_rule=by_rule)
        self._keep_page(refusal, person or self._state.person)
        raise error

    def _idle(self, taken: GaugeInHand) -> timedelta:
        """Return how long a gauge lay unused: by running time within one power-on, else by the kiosk's clock."""
        elapsed_ms = self._clock.running_ms() - taken.used_running_ms
        if taken.session == self._state.session and elapsed_ms >= 0:
            return timedelta(milliseconds=elapsed_ms)
        return abs(self._now() - taken.used_at)

    def _person(self) -> str:
        """Return who is badged in; an act that needs a name is refused without one."""
        if self._state.person is None:
            self._refuse(
                StepMissing(
                    say("Not kept: nobody is badged in."),
                    why=say("Every reading bears the name of the person who took it."),
                    next_step=say("Badge in, then do it again."),
                )
            )
        return self._state.person

    def _job(self) -> Job:
        """Return the open job; an act on a lot is refused without one."""
        if self._state.job is None:
            self._refuse(
                StepMissing(
                    say("Not kept: no job is open at this station."),
                    why=say("A reading belongs to a lot and an operation."),
                    next_step=say("Scan the traveller, then do it again."),
                )
            )
        return self._state.job

    def _revision(self, part: str, lot: str) -> str:
        """Return the part's revision in force now; the lot's own where the lists know no part."""
        known = self._lists.part(part, self._now())
        if known is not None:
            return known.revision
        on_list = self._lists.lot(lot)
        if on_list is None:
            self._refuse(
                LotNotKnown(
                    say("Not opened: part {part} is not on this kiosk's lists.", part=part),
                    why=say("Without its plan nothing can be measured here."),
                    next_step=say("Use the paper form and call the lead. Carry this kiosk when you can."),
                )
            )
        return on_list.revision

    def _characteristic(self, number: str) -> Characteristic:
        """Return a characteristic of the open job as in force now."""
        job = self._job()
        revision = self._revision(job.part, job.lot)
        found = self._lists.characteristic(job.part, revision, number, self._now())
        if found is None or found.operation != job.operation:
            self._refuse(
                PlanNotHere(
                    say("Not kept: {what} is not in the plan of this operation.", what=number),
                    why=say("This kiosk's plan for operation {operation} does not have it.", operation=job.operation),
                    next_step=say("Pick one that the screen shows, or use the paper form and call the lead."),
                )
            )
        return found

    def _read_number(self, number: str, known: Iterable[str], *, is_typed: bool) -> str:
        """Return a gauge, master or lot number; a typed one must pass its check character (ISO/IEC 7064)."""
        if not is_typed:
            return number
        try:
            core = read_typed(number)
        except PersonCanMend as error:
            self._refuse(error)
        return next((other for other in known if other == core or _is_alike(other, core)), core)

    def _lists_age(self) -> timedelta | None:
        """Return how old the lists are; none when nobody knows."""
        if self._lists_taken_at is None:
            return None
        return self._now() - read_time(self._lists_taken_at)

    def _are_lists_fresh(self) -> bool:
        """True while the lists are young enough to refuse by (N3, below caution)."""
        age = self._lists_age()
        return age is not None and age <= timedelta(hours=self._numbers().lists_caution_h)

    def _are_lists_too_old_to_sign(self) -> bool:
        """True when acceptance sign-offs are refused (N3, 7 days); recording goes on."""
        age = self._lists_age()
        return age is not None and age > timedelta(hours=self._numbers().lists_refused_h)


def _is_alike(number: str, typed: str) -> bool:
    try:
        return compact(number) == compact(typed)
    except ValueError:
        return False
