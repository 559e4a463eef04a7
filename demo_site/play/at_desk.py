"""Events at the desk, signed with badge and PIN through the desk's own rules; what it refuses is refused.

Kinds that ask nothing are kept as pages as they are told.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

from consolidator.desk import Desk, Done, Second, Seen, Signer, desk_of, open_desk, second_sign, set_pin, take_in_desk
from consolidator.intake import Archive, Intake
from consolidator.ledger.closing import judge_day
from consolidator.qc_room import corrections, dispositions, exceptions, lots, releases
from consolidator.qc_room.closing import conditions_at, exceptions_of, open_exception
from demo_site.play.clocks import KioskTime, PlayedChance
from demo_site.play.pages_told import make_act, signed
from demo_site.play.played import Trace
from demo_site.play.player import Player
from demo_site.play.scenario import Event, ScenarioRefused
from kiosk.pages import Act
from kiosk.pages.desk import Disposition, ExceptionClose, LotClose, Release, SecondSignature
from kiosk.pages.readings import Correction
from kiosk.times import production_day, write_time

PIN: Final = "814263"
"""Everybody's PIN in a played plant; invented."""
FIRST_PIN: Final = "P-106"


def desk_page(player: Player, event: Event, trace: Trace) -> None:
    """Keep one page of the desk, by the rules of its kind."""
    act = make_act(event.do, event.told, zone=player.true.zone, pages=player.played.pages)
    rule = RULES.get(type(act))
    if rule is None:
        person = _person(event)
        act = signed(act, person, player.lists, write_time(player.true.now()))
        trace.pages.append(player.keep_at_desk(act, person).ref)
        return
    with standing_desk(player) as desk:
        done = rule(player, desk, _signer(player, desk, _person(event)), act)
    trace.pages += [page.ref for page in done.pages]
    trace.said += done.notes


@contextmanager
def standing_desk(player: Player) -> Iterator[Desk]:
    """Give the desk as it stands now, with everything the kiosks and its own book brought taken in."""
    player.carry_all()
    with Intake(player.plant, now=player.true.now) as intake:
        take_in_desk(player.plant, player.desk, intake)
        yield desk_of(player.plant, player.desk, intake, player.true)


def _dispose(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    names = (
        "choice", "lot", "reason", "characteristic", "pieces", "exceptions", "readings", "where", "tag", "method",
        "witness", "customer_approval", "ends_hold",
    )  # fmt: skip
    return dispositions.dispose(desk, signer, dispositions.Wanted(**{name: getattr(act, name) for name in names}))


def _release(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    told = {name: getattr(act, name) for name in ("readings", "evidence", "reason")}
    days = {production_day(held.at, player.true.zone) for ref in act.readings if (held := desk.page(ref)) is not None}
    found: dict[str, tuple[str, ...]] = {}
    with Archive(player.plant) as archive:
        for day in sorted(days):
            closed = judge_day(player.plant, day, at=player.true.now(), archive=archive)
            found |= exceptions_of(closed, act.readings)
    return releases.release(desk, signer, told, found=found)


def _correct(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    return corrections.correct(desk, signer, corrections.Wanted(act.of, act.field, act.new, act.reason, act.words))


def _second_sign(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    return second_sign(desk, act.of, Second(signer, Seen(desk.evidence(act.of).fingerprint, True)))


def _close_lot(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    with Archive(player.plant) as archive:
        conditions = conditions_at(player.plant, act.lot, at=player.true.now(), archive=archive)
    return lots.close_lot(desk, signer, (act.lot, act.quantity), conditions)


def _close_exception(player: Player, desk: Desk, signer: Signer, act: Any) -> Done:
    now = player.true.now()
    with Archive(player.plant) as archive:
        closed = judge_day(player.plant, production_day(now, player.true.zone), at=now, archive=archive)
    rows = [row for row in closed.exceptions.to_pylist() if row["key"] == act.exception and row["state"] == "open"]
    if not rows:
        raise ScenarioRefused(
            f"{act.exception} not closed.", why="It is not open now.", next_step="Name an open one by its key."
        )
    closing = exceptions.Closing(act.reason, act.evidence, act.was_nothing_wrong)
    return exceptions.close_exception(desk, signer, open_exception(rows[0]), closing)


RULES: Final[dict[type[Act], Callable[[Player, Desk, Signer, Any], Done]]] = {
    Disposition: _dispose,
    Release: _release,
    Correction: _correct,
    SecondSignature: _second_sign,
    LotClose: _close_lot,
    ExceptionClose: _close_exception,
}
"""Kinds of pages with rules of their own at the desk."""


def _signer(player: Player, desk: Desk, person: str) -> Signer:
    for number in dict.fromkeys((FIRST_PIN, person)):
        if f"PIN {number}" not in player.seen:
            player.seen.add(f"PIN {number}")
            set_pin(desk, number, PIN, Signer(FIRST_PIN, PIN))
    return Signer(person, PIN)


def _person(event: Event) -> str:
    if event.person is None:
        raise ScenarioRefused(f"'{event.do}' not played ({event.where}).", why="No person.", next_step="Name one.")
    return event.person


@contextmanager
def desk_let_go(player: Player) -> Iterator[None]:
    """Let another program have the desk's book for a while, as only one may have it open."""
    player.desk.close()
    try:
        yield
    finally:
        player.desk = open_desk(player.plant, clock=KioskTime(player.true), chance=PlayedChance(f"{player.true.now()}"))
