"""What a person does at the screen beside the measuring: checks, a dropped gauge, heat, a gauge lent, a countersign."""

from demo_site.play.played import Trace
from demo_site.play.player import Player
from demo_site.play.scenario import Event
from kiosk.pages.readings import Reading
from kiosk.times import read_plant_time
from tests.browser.played.floor import ScreenedKiosk
from tests.browser.played.ways import badge_of, be_there, key_digits, open_job, pages_since, who


def check(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Do a zero check as told, without being asked."""
    screen, gauge = kiosk.screen, str(event.told["gauge"])
    be_there(kiosk, who(kiosk, event))
    screen.more("Gauges and checks", "Zero check or day check")
    screen.scan(gauge)
    screen.reads(f"what does {gauge} show on {event.told['master']}?")
    key_digits(screen, str(event.told["keyed"]))
    before = kiosk.book.last_number
    player.true.go_to(event.at)
    trace.said.append(screen.all_read(screen.touch_kept("Keep")))
    trace.pages.append(pages_since(kiosk, before)[0].ref)


def incident(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Report a dropped gauge: one tap, and a scan where the screen cannot know which one it was."""
    if event.told.get("what", "dropped") != "dropped":
        raise NotImplementedError(f"{event.where}: the screens are played with dropped gauges only.")
    screen, before = kiosk.screen, kiosk.book.last_number
    page = screen.look().page
    player.true.go_to(event.at)
    screen.touch("I dropped it")
    asks = "Which gauge was dropped or knocked?"
    seen = screen.sees(lambda one: one.page > page or one.has(asks), "the report or the question which gauge")
    if seen.page == page:
        screen.scan(str(event.told["gauge"]))
    seen = screen.kept_after(page)
    assert seen.has("Nobody is blamed."), seen.text
    trace.said.append(screen.all_read(seen))
    trace.pages.append(pages_since(kiosk, before)[0].ref)
    screen.touch_on("Go on")


def out_of_heat(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Log at the moment itself that pieces came out of heat."""
    screen, lot = kiosk.screen, player.lists.lot(str(event.told["lot"]))
    station = player.lists.station(kiosk.station, player.true.now())
    assert lot is not None and station is not None
    be_there(kiosk, who(kiosk, event))
    open_job(kiosk, lot.number, event.told.get("operation", station.operations[0]))
    screen.more("Lot, heat, count")
    before = kiosk.book.last_number
    player.true.go_to(event.at)
    trace.said.append(screen.touch_kept("Pieces came out of heat").text)
    trace.pages.append(pages_since(kiosk, before)[0].ref)


def movement(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Tell the station that a gauge was issued to it."""
    if event.told["movement"] != "issued" or event.told.get("to station") != kiosk.station:
        raise NotImplementedError(f"{event.where}: the screens are played with gauges that come here only.")
    screen, gauge = kiosk.screen, str(event.told["gauge"])
    be_there(kiosk, who(kiosk, event))
    screen.more("Gauges and checks", "Something else about a gauge")
    screen.scan(gauge)
    screen.reads(f"{gauge}: what is it?")
    before = kiosk.book.last_number
    player.true.go_to(event.at)
    trace.said.append(screen.touch_kept("Issued to this station").text)
    trace.pages.append(pages_since(kiosk, before)[0].ref)


def countersign_inside(kiosk: ScreenedKiosk, trainer: str) -> str:
    """Let the trainer sign beside the trainee while the sample is open; return what was said."""
    screen = kiosk.screen
    screen.more("This sample", "Trainer countersigns")
    seen = screen.scan_kept(badge_of(kiosk, trainer))
    assert seen.has("Countersigned by"), seen.text
    return screen.all_read(seen)


def countersign_late(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Try to sign beside a sample that is over: the screens do not offer it any more."""
    first = kiosk.book.page(int(player.played.pages(str(event.told["of"]))[0].rpartition("/")[2]))
    assert isinstance(first.act, Reading)
    player.true.go_to(event.at)
    seen = kiosk.screen.more()
    assert seen.key_with("This sample") is None and seen.key_with("Trainer countersigns") is None, seen.text
    trace.said.append(seen.text)
    kiosk.screen.touch_on("Back")


def from_form(player: Player, kiosk: ScreenedKiosk, event: Event) -> None:
    """Say which form is keyed: its number, when and by whom it was measured, who reads it back."""
    screen, told = kiosk.screen, event.told
    taken_at = read_plant_time(told["taken at"], player.true.zone)
    ago = (kiosk.clock.now().date() - taken_at.date()).days
    screen.more("Another kind of sample", "Key a paper form")
    screen.pick(told["characteristic"])
    screen.scan(told["form"])
    screen.reads("on which day")
    screen.touch_on(("Today", "Yesterday", "The day before yesterday")[ago])
    key_digits(screen, f"{taken_at:%H%M}")
    screen.touch_on("Keep")
    screen.scan(badge_of(kiosk, told["taken by"]))
    screen.reads("Who reads it back to you")
    screen.scan(badge_of(kiosk, told["read back by"]))
    screen.sees(lambda seen: seen.has(f"Form {told['form']}.") or seen.has("scan the gauge"), "the form's first piece")


def temperatures(kiosk: ScreenedKiosk, part: str, gauge: str) -> None:
    """Key how warm the part is, and the gauge, for the pieces of this sample."""
    screen = kiosk.screen
    screen.more("This sample", "Temperature of part and gauge")
    key_digits(screen, part)
    screen.touch("Keep")
    screen.reads("How warm is the gauge?")
    key_digits(screen, gauge)
    screen.touch("Keep")
    screen.reads(f"Part {part}, gauge {gauge} degrees Fahrenheit.")
