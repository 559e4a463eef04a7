"""What a night is judged in: the day and its bounds, plant numbers in force, and the acts held, with their times.

Owns putting acts in order of effective time. Knows nothing of readings or rules.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final, TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from consolidator.authority import AUTHORITIES, Deed, levels_at, role_for
from consolidator.frame.coded import Ints
from consolidator.intake.held import Held, HeldPage
from kiosk.lists import Lists, PlantNumbers
from kiosk.pages import Act, Page, Signature
from kiosk.pages.desk import SecondSignature
from kiosk.times import read_time

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)
AnActKind = TypeVar("AnActKind", bound=Act)


def ms_of(moment: datetime) -> int:
    """Return UTC milliseconds since 1970-01-01 of an aware moment."""
    return (moment - _EPOCH) // _MILLISECOND


def moment_of(ms: int) -> datetime:
    """Return the aware moment (UTC) of milliseconds since 1970-01-01; held inside the calendar, in every zone."""
    return _EPOCH + min(max(ms, _CALENDAR_MS[0]), _CALENDAR_MS[1]) * _MILLISECOND


_CALENDAR_MS: Final = (ms_of(datetime(1, 1, 3, tzinfo=UTC)), ms_of(datetime(9999, 12, 29, tzinfo=UTC)))


def text_ms(text: str) -> int:
    """Return UTC milliseconds of a page's time text."""
    return ms_of(read_time(text))


@dataclass(frozen=True)
class ActAt:
    """One act page with its effective time and the span it surely lies in, in UTC milliseconds."""

    page: Page
    fingerprint: str
    received_ms: int
    at_ms: int
    low_ms: int
    high_ms: int
    is_off: bool = False

    @property
    def ref(self) -> str:
        """How other pages name this one."""
        return self.page.ref

    @property
    def signer(self) -> str | None:
        """Who stands behind it: the signature's person, else the badge."""
        signature: Signature | None = getattr(self.page.act, "signature", None)
        return signature.person if signature is not None else self.page.person

    @property
    def sort_key(self) -> tuple[int, str, int, str]:
        """Order of acts: effective time, book, page."""
        return (self.at_ms, self.page.series, self.page.number, self.fingerprint)


class Acts:
    """All act pages by kind, each kind in order of effective time."""

    def __init__(self, acts: Iterable[ActAt]) -> None:
        self.all = tuple(sorted(acts, key=lambda act: act.sort_key))
        self._by_kind: dict[type, list[ActAt]] = {}
        for act in self.all:
            self._by_kind.setdefault(type(act.page.act), []).append(act)
        self._seconds: dict[str, list[ActAt]] = {}
        for act in self._by_kind.get(SecondSignature, ()):
            second = act.page.act
            assert isinstance(second, SecondSignature)
            self._seconds.setdefault(second.of, []).append(act)

    def of(self, kind: type[AnActKind]) -> list[tuple[ActAt, AnActKind]]:
        """Return the acts of one kind with their page, oldest first."""
        return [(act, act.page.act) for act in self._by_kind.get(kind, ())]  # type: ignore[misc]

    def seconds_of(self, first: ActAt) -> list[ActAt]:
        """Return every second signature under an act, whoever signed it, oldest first."""
        return list(self._seconds.get(first.ref, ()))

    def second_of(
        self, first: ActAt, *, may_sign: Callable[[ActAt], bool], barred: frozenset[str] = frozenset()
    ) -> ActAt | None:
        """Return the first valid second signature of an act: another person with authority, none barred, not before."""
        for second in self.seconds_of(first):
            signer = second.signer
            if signer is None or signer == first.signer or signer in barred or second.at_ms < first.at_ms:
                continue
            if may_sign(second):
                return second
        return None


@dataclass(frozen=True)
class NumberSteps:
    """N1-N19 over time: `numbers[i]` stand from `from_ms[i]` on."""

    from_ms: Ints
    numbers: tuple[PlantNumbers, ...]

    @classmethod
    def of(cls, lists: Lists) -> "NumberSteps":
        """Return the plant numbers at each moment they changed."""
        starts = {text_ms(row.in_force_from) for row in lists.plant_numbers if row.in_force_from is not None}
        from_ms = [-(2**61), *sorted(starts)]
        first = moment_of(min(starts) - 1) if starts else _EPOCH
        moments = [first, *(moment_of(ms) for ms in from_ms[1:])]
        return cls(np.array(from_ms, np.int64), tuple(lists.numbers(moment) for moment in moments))

    def at(self, ms: int) -> PlantNumbers:
        """Return the numbers in force at one moment."""
        return self.numbers[int(np.searchsorted(self.from_ms, ms, side="right")) - 1]

    def step(self, ms: Ints) -> Ints:
        """Return for each row which of `numbers` are in force."""
        return np.searchsorted(self.from_ms, ms, side="right").astype(np.int64) - 1

    def per_row(self, field: str, ms: Ints, *, times: int = 1) -> Ints:
        """Return a whole plant number, multiplied by `times` into a smaller unit, as in force for each row."""
        table = np.array([int(getattr(numbers, field) * times) for numbers in self.numbers], np.int64)
        return np.asarray(table[self.step(ms)])


@dataclass(frozen=True)
class World:
    """The night: which day, when it is closed, in which lists, with which acts."""

    held: Held
    lists: Lists
    zone: ZoneInfo
    day: date
    start_ms: int
    end_ms: int
    at_ms: int
    numbers: NumberSteps
    acts: Acts
    carried_holds: frozenset[str] = frozenset()
    """Lots on hold since a day before."""
    training_pages: int = 0
    """Pages of the production day on training lots, which are in no row here."""

    def may_sign(self, act: ActAt, deed: Deed, *, is_second: bool = False, operation: str | None = None) -> bool:
        """True when whoever signed an act had the authority at that minute; for any operation where none is told."""
        authority = AUTHORITIES[deed]
        wanted = authority.second if is_second else authority.first
        if act.signer is None:
            return False
        moment = moment_of(act.at_ms)
        known = {row.operation for row in self.lists.qualifications if row.person == act.signer}
        operations = known if operation is None else {operation}
        held = (levels_at(act.signer, self.lists, moment, operation=each) for each in sorted(operations))
        return not wanted or any(role_for(wanted, levels) is not None for levels in held)

    def second_of(self, first: ActAt, deed: Deed, *, barred: frozenset[str] = frozenset()) -> ActAt | None:
        """Return the second signature that makes an act of two persons work; none while either may not sign it."""
        if not self.may_sign(first, deed):
            return None
        return self.acts.second_of(
            first, may_sign=lambda second: self.may_sign(second, deed, is_second=True), barred=barred
        )


def timed(pages: Iterable[HeldPage], times: dict[int, tuple[int, int, int, bool]]) -> list[ActAt]:
    """Return held pages with their effective times, given by place."""
    return [
        ActAt(held.page, held.fingerprint, ms_of(held.received_at), *times[place]) for place, held in enumerate(pages)
    ]
