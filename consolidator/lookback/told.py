"""A look-back as plain values for screens and machines: every figure text as written, every time with its offset.

Owns the shape of the JSON. Must not find or judge anything.
"""

from typing import Any
from zoneinfo import ZoneInfo

from consolidator.frame.verdicts import VERDICTS
from consolidator.frame.world import moment_of
from consolidator.lookback.again import FINDINGS, Told, say_figure
from consolidator.lookback.findings import Findings
from consolidator.lookback.look_back import LookBack, UserInQuestion
from consolidator.lookback.lots import LotInQuestion, Reached
from consolidator.lookback.windows import Border, Window
from consolidator.lookback.words import CAUTION, say_lot, say_trouble, say_where
from kiosk.times import in_zone, write_time

FORMAT = 1
"""Version of the shape."""


def told(back: LookBack) -> dict[str, Any]:
    """Return the whole look-back, lots in the order in which they must be worked, each with its table of readings."""
    zone, texts = back.found.day.world.zone, [_texts(each) for each in back.found.told]
    return {
        "format": FORMAT,
        "number": back.number,
        "is_master": back.is_master,
        "known_at": _time(back.found.day.world.at_ms, zone),
        "windows": [_window(window, zone) for window in back.windows],
        "gauges": [_user(user, zone) for user in back.users],
        "readings": len(back.found),
        "lots": [_lot(lot, zone) | {"readings": _table(back.found, lot, texts, zone)} for lot in back.lots],
        "notices": [
            {"lot": each.lot, "customer": each.customer, "orders": list(each.orders), "facts": each.facts}
            for each in back.notices
        ],
        "notes": list(back.notes),
        "caution": CAUTION,
    }


def _time(ms: int, zone: ZoneInfo) -> str:
    return write_time(in_zone(moment_of(ms), zone))


def _border(border: Border, zone: ZoneInfo) -> dict[str, Any]:
    return {"at": None if border.is_open else _time(border.ms, zone), "because": border.words, "page": border.page}


def _window(window: Window, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "number": window.number,
        "why": str(window.why),
        "sentence": say_trouble(window, zone),
        "came_to_light": _time(window.at_ms, zone),
        "page": window.page,
        "master": window.via,
        "from": _border(window.start, zone),
        "to": _border(window.end, zone),
        "settled": window.settled,
        "narrowed_by": list(window.narrowed_by),
        "unit": window.unit,
        "points": [
            {
                "at": say_figure(point.at),
                "permissible": say_figure(point.permissible),
                "as_found": None if point.error is None else say_figure(point.error),
            }
            for point in window.points
        ],
    }


def _user(user: UserInQuestion, zone: ZoneInfo) -> dict[str, Any]:
    windows = [_window(window, zone) for window in user.windows]
    return {"number": user.number, "is_settled": user.is_settled, "windows": windows}


def _lot(lot: LotInQuestion, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "lot": lot.lot,
        "part": lot.part,
        "sentence": say_lot(lot, zone),
        "worst": str(lot.worst),
        "counts": {str(finding): lot.counts[finding] for finding in FINDINGS},
        "already_out_of_tolerance": lot.already_bad,
        "pieces_measured": lot.pieces,
        "quantity": lot.quantity,
        "not_shipped": lot.here,
        "where": say_where(lot, zone),
        "shipments": [
            {
                "quantity": each.quantity,
                "customer": each.customer,
                "order": each.order,
                "at": _time(each.at_ms, zone),
                "certificate": each.certificate,
                "page": each.page,
            }
            for each in lot.shipments
        ],
        "urgency": lot.urgency,
        "hold": lot.needs_hold,
        "action": lot.action,
        "stations": list(lot.stations),
        "first": _time(lot.first_ms, zone),
        "last": _time(lot.last_ms, zone),
        "characteristics": [_reached(each) for each in lot.characteristics],
    }


def _reached(each: Reached) -> dict[str, Any]:
    low, high = (None if error is None else say_figure(error) for error in (each.low, each.high))
    return {
        "characteristic": each.characteristic,
        "name": each.name,
        "unit": each.unit,
        "error_from": low,
        "error_to": high,
    }


def _table(found: Findings, lot: LotInQuestion, texts: list[dict[str, Any]], zone: ZoneInfo) -> list[dict[str, Any]]:
    """Return one row for each reading of a lot, in page order; `texts` are what is told of each distinct figure."""
    return [_reading(found, place, zone) | texts[int(found.told_place[place])] for place in lot.places.tolist()]


def _texts(each: Told) -> dict[str, Any]:
    return {
        "finding": str(each.finding),
        "error": None if each.error is None else say_figure(each.error),
        "true": None if each.true is None else say_figure(each.true),
        "why": each.why,
    }


def _reading(found: Findings, place: int, zone: ZoneInfo) -> dict[str, Any]:
    day, row = found.day, int(found.rows[place])
    pages = day.pages
    return {
        "page": pages.ref(row),
        "at": _time(int(day.ms[row]), zone),
        "station": pages.station.at(row),
        "gauge": pages.gauge.at(row),
        "characteristic": pages.characteristic.at(row),
        "sample": int(pages.sample[row]),
        "piece": int(pages.piece[row]),
        "kind": pages.sample_kind.at(row),
        "keyed": pages.keyed.at(row),
        "value": day.values.text.at(row),
        "verdict": str(VERDICTS[int(day.verdicts.verdict[row])]),
    }
