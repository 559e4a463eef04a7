"""A person at the screens of one invented station, without a browser: presses, picks by words, scans."""

from kiosk.acts import WAYS, Mark, Steps
from kiosk.errors import SignatureRefused
from kiosk.lists import Lists
from kiosk.lists import Person as ListedPerson
from kiosk.pages import Act, Signature
from kiosk.pages.words import Meaning
from kiosk.settings import Settings
from kiosk.station import say
from kiosk.times import write_time
from tests.unit.kiosk.plant import LISTS, Post


class SignerWithOnePin:
    """Knows one PIN for everybody; signs on a fingerprint of noughts."""

    def __init__(self, at: str) -> None:
        self._at = at

    def check(self, person: str, pin: str) -> None:
        """Return when the PIN is 274951."""
        if pin != "274951":
            raise SignatureRefused(say("Not signed."), why=say("Wrong."), next_step=say("Key it again."))

    def sign(self, act: Act, person: ListedPerson, sentence: str, role: str) -> Signature:
        """Return a signature."""
        return Signature(
            person=person.number, name=person.name, role=role, at=self._at, meaning=Meaning.APPROVED,
            sentence=sentence, of="0" * 64,
        )  # fmt: skip


class AtAScreen:
    """One person at one station's screens; time passes between two acts, so that nobody is deaf."""

    def __init__(self, station: str = "S12", lists: Lists = LISTS) -> None:
        self.post = Post(station, lists=lists)
        self.steps = Steps(self.post.work, self.post.clock, WAYS, Settings())
        self.steps.series = f"{station}-a"
        self.steps.signer = SignerWithOnePin(write_time(self.post.clock.now()))

    @property
    def words(self) -> str:
        """Everything that stands on the screen."""
        shown = self.steps.shown
        told = [f"{one.mark} {one.words}" for one in shown.told]
        choices = [f"[{one.words}] {one.detail or ''}" for one in self.steps.choices()]
        return "\n".join([shown.title, *told, *choices, shown.count_words or "", shown.figure or ""])

    @property
    def marks(self) -> list[Mark]:
        """The marks on the screen."""
        return [one.mark for one in self.steps.shown.told]

    def press(self, *keys: str) -> "AtAScreen":
        """Press keys."""
        for key in keys:
            self.post.clock.wait(0.5)
            self.steps.press(key)
        return self

    def key(self, figure: str) -> "AtAScreen":
        """Key a figure and keep it."""
        return self.press(*figure, "keep")

    def pick(self, *words: str) -> "AtAScreen":
        """Pick choices by a part of their words, turning pages where there are more."""
        for part in words:
            self.post.clock.wait(0.5)
            self.steps.press(f"pick {self._act(part)}")
        return self

    def more(self, *words: str) -> "AtAScreen":
        """Go through More."""
        return self.press("more").pick(*words)

    def scan(self, *codes: str) -> "AtAScreen":
        """Scan codes."""
        for code in codes:
            self.post.clock.wait(0.5)
            self.steps.scan(code)
        return self

    def _act(self, part: str) -> str:
        found = [one.act for one in self.steps.shown.choices if part in one.words]
        assert len(found) == 1, f"{part!r} names {len(found)} keys of:\n{self.words}"
        return found[0]


def measuring(station: str = "S12", badge: str = "B-101", lot: str = "L-411") -> AtAScreen:
    """Badge in and open the lot."""
    return AtAScreen(station).scan(badge, lot)
