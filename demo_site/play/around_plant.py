"""Events around the plant: network, sticks, clocks, power, lists, closing, sealing."""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

import httpx2

from consolidator.desk import take_in_desk
from consolidator.desk.sealing import seal_day
from consolidator.intake import Archive, Intake, issue_stick, load_stick, withdraw
from consolidator.ledger.closing import close_plant_day
from demo_site.play.at_desk import desk_let_go
from demo_site.play.clocks import PlayedChance
from demo_site.play.floor import PlayedKiosk
from demo_site.play.played import Trace
from demo_site.play.player import Player, read_difference
from demo_site.play.scenario import Event, ScenarioRefused
from kiosk.carry import Enrolment, kiosk_keys, make_packets
from kiosk.carry.keys import seal as seal_for
from kiosk.carry.sticks import PACKET_PURPOSE, out_folder, packet_name
from kiosk.pages import Page, canonical_bytes
from kiosk.pages.readings import Reading
from kiosk.times import day_bounds_utc, production_day

PASS_AFTER: Final = timedelta(minutes=5)
"""How long after its end a day is closed where the scenario does not say (06:05, N16)."""


def network(player: Player, event: Event, trace: Trace) -> None:
    """Take a kiosk's network away or give it back; back, it carries at once."""
    kiosk = _kiosk(player, event)
    kiosk.is_online = event.do == "network up"
    if kiosk.is_online:
        kiosk.carry(player.true)


def carry(player: Player, event: Event, trace: Trace) -> None:
    """Carry a kiosk's pages now, or in one of the odd ways that a scenario asks for."""
    kiosk, told = _kiosk(player, event), event.told
    if "leave out" in told:
        kiosk.held_back = frozenset(_numbers(told["leave out"]))
    elif kiosk.is_online:
        kiosk.held_back = frozenset()
    if "altered page" in told:
        _post(player, kiosk, trace, altered=_numbers(told["altered page"]))
    elif told.get("wrong plant") == "yes":
        _post(player, kiosk, trace, plant="P-ELSEWHERE")
    elif told.get("order") == "reversed":
        _post(player, kiosk, trace, is_reversed=True)
    for _ in range(int(told.get("times", 1)) - 1):
        _post(player, kiosk, trace)
    if kiosk.is_online or "leave out" in told:
        done = kiosk.carry(player.true)
        trace.refused += done.refusals


def stick_out(player: Player, event: Event, trace: Trace) -> None:
    """Put what is not carried on a numbered stick; `everything` puts pages already carried on it as well."""
    kiosk, stick = _kiosk(player, event), _stick(player, event)
    kiosk.carry_by(stick)
    if event.told.get("everything") == "yes":
        opens = Enrolment.open(kiosk.folder).consolidator_opens
        folder = out_folder(stick, kiosk.series)
        folder.mkdir(parents=True, exist_ok=True)
        for header, raw in make_packets(kiosk.book.pages(), kiosk_keys(kiosk.folder).signing):
            path = folder / packet_name(header.first, header.last)
            path.write_bytes(seal_for(raw, opens, purpose=PACKET_PURPOSE))


def stick_load(player: Player, event: Event, trace: Trace) -> None:
    """Load a stick at the consolidator."""
    with Intake(player.plant, now=player.true.now) as intake:
        loaded = load_stick(intake, _stick(player, event), player.true.now())
    trace.said.append(loaded.words)
    trace.refused += loaded.refusals


def stick_back(player: Player, event: Event, trace: Trace) -> None:
    """Put the stick into the kiosk again: it takes its receipt and fresh lists."""
    kiosk = _kiosk(player, event)
    done = kiosk.carry_by(_stick(player, event))
    if done.receipt is not None:
        player.played.receipts.add((event.told["stick"], kiosk.station))


def power_cut(player: Player, event: Event, trace: Trace) -> None:
    """Switch a kiosk off and on."""
    _kiosk(player, event).cut_power()


def clock(player: Player, event: Event, trace: Trace) -> None:
    """Put a kiosk's clock wrong, or right, from now on."""
    _kiosk(player, event).clock.error = read_difference(event.told["set"])


def new_kiosk(player: Player, event: Event, trace: Trace) -> None:
    """Put another kiosk at a station."""
    if event.station is None:
        raise ScenarioRefused(f"No kiosk put ({event.where}).", why="No station.", next_step="Name it.")
    player.put_kiosk(event.station, event.told["series"])


def withdraw_series(player: Player, event: Event, trace: Trace) -> None:
    """Withdraw a series."""
    withdraw(player.plant, event.told["series"], player.true.now())


def lists(player: Player, event: Event, trace: Trace) -> None:
    """Take over changed lists now."""
    told = event.told
    player.deck.change(told["change"])
    who = {"by": event.person or "P-106", "second": told.get("second", "P-108")}
    player.take_over(reason=told.get("reason", "changed for this scenario"), **who)


def close(player: Player, event: Event, trace: Trace) -> None:
    """Let kiosks carry and close a day, as the pass of the night does."""
    day = _day(player, event)
    player.carry_all()
    _close(player, day, player.true.now())
    trace.day = day
    player.played.closed_at[event.name] = player.true.now()


def close_again(player: Player, event: Event, trace: Trace) -> None:
    """Close a day once more with the moment of an earlier close."""
    day = _day(player, event)
    _close(player, day, player.played.closed_at[event.told["as at"]])
    trace.day = day


def seal(player: Player, event: Event, trace: Trace) -> None:
    """Seal a day as the command does."""
    day = _day(player, event)
    people = (str(event.person), event.told.get("second"))
    with desk_let_go(player):
        book = seal_day(player.plant, (day, 0), people, clock=player.true, chance=PlayedChance(event.name))
    trace.day, trace.fingerprint = day, str(book.seal_file["ledger"])


def mark(player: Player, event: Event, trace: Trace) -> None:
    """Remember every ledger's fingerprint."""
    player.played.marks[event.name] = player.played.fingerprints()


def close_all(player: Player) -> None:
    """Close every production day in which an event of the scenario lies, at 06:05 after its end."""
    zone = player.true.zone
    for day in sorted({production_day(event.at, zone) for event in player.events}):
        player.true.go_to(day_bounds_utc(day, zone)[1] + PASS_AFTER)
        player.carry_all()
        _close(player, day, player.true.now())


def _close(player: Player, day: date, at: datetime) -> None:
    with Intake(player.plant, now=player.true.now) as intake:
        take_in_desk(player.plant, player.desk, intake)
    with Archive(player.plant) as archive:
        close_plant_day(player.plant, day, at=at, archive=archive)


def _post(
    player: Player,
    kiosk: PlayedKiosk,
    trace: Trace,
    *,
    altered: tuple[int, ...] = (),
    plant: str | None = None,
    is_reversed: bool = False,
) -> None:
    """Send every page once more by hand, signed with the kiosk's key."""
    pages = [_changed(page, raw, altered, plant) for page, raw in kiosk.book.pages()]
    packets = list(make_packets(pages, kiosk_keys(kiosk.folder).signing))
    for _, raw in reversed(packets) if is_reversed else packets:
        answer = httpx2.post(f"{player.serving.address}/carry/v1/packets", content=raw, trust_env=False)
        if answer.status_code != 200:
            trace.refused.append(answer.text)


def _changed(page: Page, raw: bytes, altered: tuple[int, ...], plant: str | None) -> tuple[Page, bytes]:
    if plant is not None:
        page = page.model_copy(update={"plant": plant})
        return page, canonical_bytes(page)
    act = page.act
    if page.number in altered and isinstance(act, Reading):
        last = act.keyed[-1]
        keyed = act.keyed[:-1] + ("1" if last != "1" else "2")
        page = page.model_copy(update={"act": act.model_copy(update={"keyed": keyed})})
        return page, canonical_bytes(page)
    return page, raw


def _numbers(text: str) -> tuple[int, ...]:
    found: list[int] = []
    for part in text.replace(",", " ").split():
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return tuple(found)


def _kiosk(player: Player, event: Event) -> PlayedKiosk:
    if event.station is None:
        raise ScenarioRefused(f"'{event.do}' not played ({event.where}).", why="No station.", next_step="Name it.")
    return player.kiosk(event.station)


def _stick(player: Player, event: Event) -> Path:
    number = str(event.told["stick"])
    stick = player.plant.root.parent / "sticks" / number
    if not stick.exists():
        with Intake(player.plant, now=player.true.now) as intake:
            issue_stick(intake, stick, number, player.true.now())
    return stick


def _day(player: Player, event: Event) -> date:
    if "day" in event.told:
        return date.fromisoformat(event.told["day"])
    return production_day(event.at - timedelta(hours=24), player.true.zone)
