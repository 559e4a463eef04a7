"""Events at a station, played through `kiosk.station` as a person would do them."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any, Final

from demo_site.play.floor import PlayedKiosk
from demo_site.play.pages_told import make_act
from demo_site.play.played import Trace
from demo_site.play.player import Player, read_span
from demo_site.play.scenario import Event, ScenarioRefused
from demo_site.play.usual import be_there, characteristic_of, check_gauge, open_job, usual_way
from kiosk.errors import GaugeAskedAgain
from kiosk.judge import HeatNote
from kiosk.pages.readings import Correction, Countersign, Reading
from kiosk.pages.station import SetUpChange, SetUpEnd, SetUpStart
from kiosk.pages.words import GaugeIncidentKind, KeyedAs, SampleKind, Source
from kiosk.station import Done, Entry, KeptReading, LookAgain, Paper
from kiosk.times import read_plant_time, write_time

STEP: Final = timedelta(seconds=1)


def reading(player: Player, event: Event, trace: Trace) -> None:
    """Key each figure told as one reading on the next piece, with all that comes before a first one."""
    kiosk, told = _kiosk(player, event), event.told
    what = characteristic_of(player, event)
    if what is None:
        raise ScenarioRefused(
            f"Reading not played ({event.where}).",
            why=f"No characteristic '{told.get('characteristic')}' for lot {told.get('lot')}.",
            next_step="Name one of the part, or give the part.",
        )
    anyway = told.get("measured anyway") == "yes"
    be_there(player, kiosk, event)
    open_job(kiosk, told["lot"], what.operation, anyway=anyway, part=told.get("part"))
    _begin(player, kiosk, event, trace, anyway=anyway)
    every, thens = read_span(told.get("every", "20 s")), iter(_texts(told.get("then")))
    for place, keyed in enumerate(_texts(told["keyed"])):
        player.true.go_to(event.at + place * every)
        piece = int(told["piece"]) + place if "piece" in told else None
        _key(player, kiosk, event, trace, keyed=keyed, thens=thens, piece=piece)
        if "countersigned by" in told and place == 0:
            trace.said += _said(kiosk.work.countersign(what.number, told["countersigned by"]))
    for keyed in _texts(told.get("unasked")):
        player.true.go_on(5 * STEP)
        sample = kiosk.work.state.sample_of(what.number)
        assert sample is not None
        anew = kiosk.work.key_anew(what.number, sample.next_piece - 1, keyed, _entry(player, event, None))
        if isinstance(anew, LookAgain):
            trace.asked += [str(one) for one in anew.say]
            anew = kiosk.work.key_anew(what.number, sample.next_piece - 1, keyed, _entry(player, event, None))
        assert isinstance(anew, KeptReading)
        _keep(trace, anew, is_anew=True)


def badge_in(player: Player, event: Event, trace: Trace) -> None:
    """Badge in, or take over."""
    trace.said += _said(_kiosk(player, event).work.badge_in(_person(event)))


def badge_out(player: Player, event: Event, trace: Trace) -> None:
    """Badge out."""
    trace.said += _said(_kiosk(player, event).work.badge_out())


def check(player: Player, event: Event, trace: Trace) -> None:
    """Do a zero or day check as told."""
    kiosk, told = _kiosk(player, event), event.told
    be_there(player, kiosk, event)
    if event.do == "day check":
        done = kiosk.work.check_day(told["gauge"], told["keyed"], block=told.get("master"))
    else:
        way = KeyedAs(told.get("as", "deviation"))
        done = kiosk.work.check_zero(told["gauge"], told["keyed"], master=told.get("master"), keyed_as=way)
    _keep(trace, done)


def incident(player: Player, event: Event, trace: Trace) -> None:
    """Report in one tap what befell a gauge."""
    what = GaugeIncidentKind(event.told.get("what", "dropped"))
    _keep(trace, _kiosk(player, event).work.report_incident(event.told["gauge"], what))


def stop(player: Player, event: Event, trace: Trace) -> None:
    """Log a stop, or that the machine runs again."""
    work = _kiosk(player, event).work
    _keep(trace, work.stop(event.told.get("reason", "other")) if event.do == "stop" else work.run_again())


def changeover(player: Player, event: Event, trace: Trace) -> None:
    """Log that one lot ends and the next begins."""
    kiosk = _kiosk(player, event)
    be_there(player, kiosk, event)
    is_clear = event.told.get("line clear", "yes") == "yes"
    _keep(trace, kiosk.work.change_over(event.told["to"], is_line_clear=is_clear))


def countersign(player: Player, event: Event, trace: Trace) -> None:
    """Countersign the sample of an earlier reading event; one that is over gets the page all the same, too late."""
    kiosk = _kiosk(player, event)
    first = kiosk.book.page(int(player.played.pages(event.told["of"])[0].rpartition("/")[2]))
    act = first.act
    if not isinstance(act, Reading) or first.person is None:
        raise ScenarioRefused(f"{event.where}: not countersigned.", why="It is no reading.", next_step="Name one.")
    sample = kiosk.work.state.sample_of(act.characteristic)
    if sample is not None and sample.number == act.sample:
        _keep(trace, kiosk.work.countersign(act.characteristic, _person(event)))
        return
    late = Countersign(
        trainee=first.person, lot=act.lot, operation=act.operation, characteristic=act.characteristic,
        sample=act.sample,
    )  # fmt: skip
    trace.pages.append(kiosk.book.keep(late, person=_person(event), lists_version=kiosk.work.lists.version).ref)


def out_of_heat(player: Player, event: Event, trace: Trace) -> None:
    """Log that pieces of a lot came out of heat; a job of the lot is opened first where none is."""
    kiosk, told = _kiosk(player, event), event.told
    be_there(player, kiosk, event)
    job = kiosk.work.state.job
    if job is None or job.lot != told["lot"]:
        station = player.lists.station(kiosk.station, player.true.now())
        assert station is not None
        open_job(kiosk, told["lot"], told.get("operation", station.operations[0]), anyway=False)
    out_at = write_time(read_plant_time(told["out at"], player.true.zone)) if "out at" in told else None
    _keep(trace, kiosk.work.out_of_heat(out_at=out_at))


def first_piece(player: Player, event: Event, trace: Trace) -> None:
    """Sign or refuse first pieces."""
    is_approved = event.told.get("result", "Approved") == "Approved"
    work = _kiosk(player, event).work
    _keep(trace, work.approve_first_piece(event.told["set-up"], _person(event), is_approved=is_approved))


def movement(player: Player, event: Event, trace: Trace) -> None:
    """Log that custody of a gauge moved."""
    told = event.told
    work = _kiosk(player, event).work
    _keep(trace, work.move_gauge(told["gauge"], told["movement"], to_station=told.get("to station")))


def heat_scan(player: Player, event: Event, trace: Trace) -> None:
    """Scan a heat number for the open job."""
    _keep(trace, _kiosk(player, event).work.scan_heat(event.told["heat"]))


def other_page(player: Player, event: Event, trace: Trace) -> None:
    """Keep any other act of a station as it is told: set-ups, counts, corrections, remarks."""
    kiosk = _kiosk(player, event)
    told = {key: value for key, value in event.told.items() if key != "at station"}
    act = make_act(event.do, told, zone=player.true.zone, pages=player.played.pages)
    be_there(player, kiosk, event)
    ways: dict[type, Any] = {
        SetUpStart: kiosk.work.begin_set_up,
        SetUpChange: kiosk.work.change_set_up,
        SetUpEnd: kiosk.work.end_set_up,
        Correction: kiosk.work.correct,
    }
    if type(act) in ways:
        _keep(trace, ways[type(act)](act))
        return
    page = kiosk.book.keep(act, person=kiosk.work.state.person, lists_version=kiosk.work.lists.version)
    trace.pages.append(page.ref)


def _begin(player: Player, kiosk: PlayedKiosk, event: Event, trace: Trace, *, anyway: bool) -> None:
    """Open the sample and take the gauge, unless the event goes on with the sample that is open."""
    told, work = event.told, kiosk.work
    characteristic, number = told["characteristic"], int(told["sample"]) if "sample" in told else None
    kind = SampleKind(told.get("kind", SampleKind.RUN))
    open_now = work.state.sample_of(characteristic)
    is_open = open_now is not None and number is not None and (open_now.number, open_now.kind) == (number, kind)
    taken = work.state.gauge_for(characteristic)
    is_in_hand = taken is not None and taken.gauge == told.get("gauge") and taken.person == work.state.person
    if "gauge" in told and not (is_open and is_in_hand):
        check_gauge(player, kiosk, told["gauge"])
        trace.said += _said(_take(kiosk, event, anyway=anyway))
    if not is_open:
        of = player.played.pages(told["re-measure of"])[0] if "re-measure of" in told else None
        begun = work.begin_sample(characteristic, kind=kind, number=number, re_measure_of=of, measured_anyway=anyway)
        trace.said += [str(one) for one in begun.say]


def _take(kiosk: PlayedKiosk, event: Event, *, anyway: bool) -> Done:
    told = event.told
    gauge = kiosk.work.lists.gauge(told["gauge"], kiosk.clock.now())
    with_told = told.get("with") or (None if gauge is None else gauge.wires)
    return kiosk.work.take_gauge(told["characteristic"], told["gauge"], master=with_told, measured_anyway=anyway)


def _key(  # noqa: PLR0913 - one figure with everything that is told of it
    player: Player,
    kiosk: PlayedKiosk,
    event: Event,
    trace: Trace,
    *,
    keyed: str,
    thens: Iterator[str],
    piece: int | None,
) -> None:
    characteristic, entry = event.told["characteristic"], _entry(player, event, piece)
    try:
        done = kiosk.work.key(characteristic, keyed, entry)
    except GaugeAskedAgain:
        _take(kiosk, event, anyway=event.told.get("measured anyway") == "yes")
        done = kiosk.work.key(characteristic, keyed, entry)
    if isinstance(done, LookAgain):
        trace.asked += [str(one) for one in done.say]
        answer = next(thens, "same")
        player.true.go_on(5 * STEP)
        done = kiosk.work.key(characteristic, keyed if answer == "same" else answer, entry)
    if isinstance(done, LookAgain):
        raise ScenarioRefused(f"{event.where}: asked twice.", why="One question a reading.", next_step="A fault.")
    _keep(trace, done)


def _entry(player: Player, event: Event, piece: int | None) -> Entry:
    told = event.told
    source = Source(told.get("source", Source.KEYED))
    paper = None
    if source is Source.PAPER:
        paper = Paper(
            form=told["form"],
            taken_at=write_time(read_plant_time(told["taken at"], player.true.zone)),
            taken_by=told["taken by"],
            read_back_by=told.get("read back by"),
        )
    heat = HeatNote(
        part=Decimal(told["part temperature"]) if "part temperature" in told else None,
        gauge=Decimal(told["gauge temperature"]) if "gauge temperature" in told else None,
    )
    return Entry(
        keyed_as=usual_way(told.get("as")), unit=told.get("unit"), piece=piece, heat=heat, source=source, paper=paper,
        remark=told.get("remark"),
    )  # fmt: skip


def _keep(trace: Trace, done: Done, *, is_anew: bool = False) -> None:
    trace.said += _said(done)
    if is_anew and isinstance(done, KeptReading):
        trace.pages[-1] = done.page.ref
    else:
        trace.pages.append(done.page.ref)


def _said(done: Done) -> list[str]:
    return [str(one) for one in done.say]


def _kiosk(player: Player, event: Event) -> PlayedKiosk:
    if event.station is None:
        raise ScenarioRefused(f"'{event.do}' not played ({event.where}).", why="No station.", next_step="Name it.")
    return player.kiosk(event.station)


def _person(event: Event) -> str:
    if event.person is None:
        raise ScenarioRefused(f"'{event.do}' not played ({event.where}).", why="No person.", next_step="Name one.")
    return event.person


def _texts(told: Any) -> list[str]:
    if told is None:
        return []
    return list(told) if isinstance(told, list) else str(told).split()
