"""The acceptance run that is under way at one kiosk, as its book tells it: where it stands, and who may sign it.

Owns when it begins and is over, which ways its pages were carried, and that two persons sign what came out right.
"""

from collections.abc import Callable, Sequence
from typing import Final

from kiosk.acceptance.kit import Here, Kit, find_kit
from kiosk.acceptance.run import Result, Task, results
from kiosk.acts.steps import Steps
from kiosk.lists.words import Level
from kiosk.pages import Act, Page, Signature
from kiosk.pages.readings import Reading
from kiosk.pages.station import AcceptanceBegun, AcceptanceSigned
from kiosk.said import Said, say
from kiosk.station import Done

SIGNERS: Final = (Level.QUALITY_MANAGER, Level.CALIBRATOR)
"""Who signs, in this order; two persons."""
LEVEL_WORDS: Final[dict[Level, Said]] = {
    Level.QUALITY_MANAGER: say("quality manager"), Level.CALIBRATOR: say("calibrator"),
}  # fmt: skip
PAGES_LIMIT: Final = 250
"""Pages of a run with every mistake a person makes in it; beyond them it was left, and is begun again."""
PagesFrom = Callable[[int], Sequence[Page]]


class Run:
    """The run that is under way at one kiosk, as its book tells it."""

    def __init__(
        self, steps: Steps, pages_from: PagesFrom, pages: Sequence[Page], ways: tuple[str, ...] = ("network",)
    ) -> None:
        self._steps, self._pages_from, self.ways = steps, pages_from, ways
        begun = [page for page in pages if isinstance(page.act, AcceptanceBegun)]
        self._begun = begun[-1] if begun else None
        self.carried: set[str] = set()
        """The ways by which pages of this run were carried and acknowledged."""

    @property
    def begun(self) -> Page | None:
        """The page that began it; none before, after both have signed, and once the work has gone on without it."""
        if self._begun is not None:
            is_left = self._steps.work.state.last_page - self._begun.number > PAGES_LIMIT
            if is_left or len(self.signed_by) == len(SIGNERS):
                self._begun = None
        return self._begun

    @property
    def signed_by(self) -> tuple[str, ...]:
        """The roles that have signed it."""
        acts = (page.act for page in self._pages())
        return tuple(
            act.signature.role for act in acts if isinstance(act, AcceptanceSigned) and act.signature is not None
        )

    @property
    def signers(self) -> tuple[str, ...]:
        """The persons who have signed it."""
        return tuple(page.person or "" for page in self._pages() if isinstance(page.act, AcceptanceSigned))

    @property
    def is_all_right(self) -> bool:
        """True when all ten are there and each is as expected."""
        done = self.results()
        return len(done) == len(Task) and all(one.is_as_expected for one in done)

    def kit(self) -> Kit | tuple[Said, ...] | None:
        """Return what the run needs, or what is missing; none while no training lot is open."""
        work, job = self._steps.work, self._steps.work.state.job
        lot = None if job is None else work.lists.lot(job.lot)
        if lot is None or not lot.is_training:
            return None
        here = Here(work.characteristics(), work.gauges_here(), self._steps.now().date())
        return find_kit(work.lists, lot, here)

    def results(self) -> list[Result]:
        """Return what came out so far; nothing while the training lot is not open."""
        kit = self.kit()
        return results(kit, self._pages()) if isinstance(kit, Kit) else []

    def begin(self) -> None:
        """Begin it, or begin it again."""
        self._begun = self._steps.work.begin_acceptance().page
        self.carried.clear()

    def acknowledged(self, way: str, through: int) -> None:
        """Note that pages through this number are held by the consolidator, and by which way that came to be known."""
        measured = [page.number for page in self._pages() if isinstance(page.act, Reading)]
        if measured and through >= measured[-1] and len(self.results()) == len(Task):
            self.carried.add(way)

    @property
    def next_level(self) -> Level:
        """As what the next person signs."""
        return next(level for level in SIGNERS if str(level) not in self.signed_by)

    def why_not(self, person: str) -> Said | None:
        """Return why a person may not sign next; none when he may: named for it, and not the one who signed before."""
        if not self._steps.work.may_sign_acceptance(person, self.next_level):
            level = LEVEL_WORDS[self.next_level]
            return say("{person} is not named as {level} on the lists here.", person=person, level=level)
        if person in self.signers:
            return say("{person} signed already: another person, please.", person=person)
        return None

    def sign(self, person: str, sign: Callable[[Act], Signature]) -> Done | None:
        """Keep that a person says what came out; none where it is not right, or not his to say, at this moment."""
        begun, kit = self.begun, self.kit()
        if begun is None or not isinstance(kit, Kit) or not self.is_all_right or self.why_not(person) is not None:
            return None
        told = tuple(f"{one.task}: as expected" for one in self.results())
        act = AcceptanceSigned(lot=kit.lot.number, begun=begun.ref, results=told)
        return self._steps.work.sign_acceptance(act, person, sign)

    def _pages(self) -> Sequence[Page]:
        return () if self._begun is None else self._pages_from(self._begun.number + 1)
