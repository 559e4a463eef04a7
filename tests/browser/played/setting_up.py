"""Set-ups at the screen: begun, first pieces approved under badge and PIN, and the evening before a scenario."""

import shutil

from consolidator.desk import Signer, set_pin
from demo_site.play.at_desk import FIRST_PIN, PIN, standing_desk
from demo_site.play.played import Trace
from demo_site.play.player import Player
from demo_site.play.scenario import Event
from demo_site.play.usual import APPROVER, SETTER, characteristic_of, prove, sign_off
from kiosk.pages.station import SetUpStart
from tests.browser.played.floor import ScreenedKiosk
from tests.browser.played.screen import Seen
from tests.browser.played.ways import badge_of, be_there, key_digits, open_job, pages_since, to_hub

ASKED_NOWHERE = frozenset({"set-up", "part", "revision", "operation", "set by", "die set", "lot"})
"""What a scenario tells of a set-up and the screen does not ask.

It follows from the job or stands on the set-up sheet; the number is the kiosk's own.
"""


def prepare(player: Player) -> None:
    """Do the evening before what the readings will need: set-ups and sign-offs, as the player's own `prepare` does."""
    for event in player.events:
        what = characteristic_of(player, event) if event.do == "reading" and event.station else None
        if what is None or event.station is None:
            continue
        lot, now = str(event.told["lot"]), player.true.now()
        sign_off(player, what, lot)
        plan = player.lists.plan(what.part, what.revision, what.operation, now)
        is_told = any(one.do == "set-up start" and one.station == event.station for one in player.events)
        mark = f"set up {event.station} {what.operation}"
        if plan is None or not plan.needs_first_piece or is_told or mark in player.seen:
            continue
        player.seen.add(mark)
        kiosk = player.kiosk(event.station)
        assert isinstance(kiosk, ScreenedKiosk)
        kiosk.screen.come()
        be_there(kiosk, SETTER)
        open_job(kiosk, lot, what.operation)
        number = _begin(kiosk)
        _approve(player, kiosk, APPROVER, is_approved=True)
        if plan.needs_fatigue_proof:
            prove(player, what, number, lot)


def set_up_start(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Begin a set-up."""
    assert event.person is not None
    if unknown := sorted(set(event.told) - ASKED_NOWHERE):
        raise NotImplementedError(f"{event.where}: the screens are not played with {', '.join(unknown)}.")
    be_there(kiosk, event.person)
    open_job(kiosk, str(event.told["lot"]), str(event.told["operation"]))
    to_hub(kiosk.screen)
    before = kiosk.book.last_number
    player.true.go_to(event.at)
    _begin(kiosk)
    trace.pages += [page.ref for page in pages_since(kiosk, before) if isinstance(page.act, SetUpStart)]


def first_piece(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Approve or refuse first pieces with the inspector's badge and PIN."""
    assert event.person is not None
    is_approved = event.told.get("result", "Approved") == "Approved"
    before = kiosk.book.last_number
    seen = _approve(player, kiosk, event.person, is_approved=is_approved, event=event)
    trace.said.append(kiosk.screen.all_read(seen))
    trace.pages.append(pages_since(kiosk, before)[-1].ref)


def _begin(kiosk: ScreenedKiosk) -> str:
    screen, before = kiosk.screen, kiosk.book.last_number
    screen.more("Machine and set-up", "Set-up and first pieces", "Begin a")
    screen.pick("New lot")
    screen.touch_kept("Cold")
    return next(page.act.set_up for page in pages_since(kiosk, before) if isinstance(page.act, SetUpStart))


def _approve(
    player: Player, kiosk: ScreenedKiosk, person: str, *, is_approved: bool, event: Event | None = None
) -> Seen:
    bring_pin(player, kiosk, person)
    screen = kiosk.screen
    screen.more("Machine and set-up", "Set-up and first pieces", "First pieces: approve or refuse")
    screen.scan(badge_of(kiosk, person))
    screen.reads("What I press is my decision.")
    screen.touch_on("Approved" if is_approved else "Refused")
    key_digits(screen, PIN, shown="\N{BULLET}" * len(PIN))
    if event is not None:
        player.true.go_to(event.at)
    return screen.touch_kept("Keep")


def bring_pin(player: Player, kiosk: ScreenedKiosk, person: str) -> None:
    """Set a person's PIN at the desk and bring the plant's PINs to the kiosk, as the quality manager does."""
    with standing_desk(player) as desk:
        for number in dict.fromkeys((FIRST_PIN, person)):
            if f"PIN {number}" not in player.seen:
                player.seen.add(f"PIN {number}")
                set_pin(desk, number, PIN, Signer(FIRST_PIN, PIN))
    there = kiosk.folder / "pins.json"
    shutil.copyfile(player.plant.keys / "pins.json", there)
    there.chmod(0o600)
