"""What is found of a lot as a whole: its heat, its pieces, and what it is accepted on (X42, X43, X52)."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from kiosk.pages.desk import LotShip
from kiosk.pages.readings import SampleEnd
from kiosk.pages.station import HeatScan, PieceCount
from kiosk.pages.words import SampleKind
from tests.oracle.between import standing_readings
from tests.oracle.night import RUN, ActAt, Night, Reading
from tests.oracle.samples import Named
from tests.oracle.times import text_ms

_HALF_HOUR_MS = 30 * 60_000
_AGAIN = (SampleKind.RE_MEASURE, SampleKind.REFEREE)


def wrong_heats(night: Night) -> Named:
    """X52: the heat scanned on the material is another than the lot's."""
    found = set()
    for act, scan in night.of(HeatScan):
        lot = night.lists.lot(scan.lot)
        if night.is_today(act.ms) and lot is not None and lot.heat is not None and scan.heat != lot.heat:
            found.add(("X52", scan.lot))
    return found


def pieces_apart(night: Night) -> Named:
    """X42: by the day's last count of a lot at an operation, in is not good and scrap and test and in hand."""
    last: dict[tuple[str, str], tuple[ActAt, PieceCount]] = {}
    for act, count in night.of(PieceCount):
        if night.is_today(act.ms):
            last[count.lot, count.operation] = (act, count)
    return {
        ("X42", lot)
        for (lot, _), (_, count) in last.items()
        if count.pieces_in != count.good + count.scrap + count.test + count.in_hand
    }


def not_accepted(night: Night) -> tuple[Named, Named]:
    """X43: too few counting final pieces once nothing more is to come, or too many rejects; and what is undecided.

    Of other days close of day counts acceptance and test readings alone (0130): where run pieces of a final operation
    or re-measures lie there too, nothing is compared.
    """
    groups: dict[tuple[str, str], list[Reading]] = defaultdict(list)
    standing = standing_readings(night)
    for reading in standing:
        if _is_final(reading):
            groups[reading.row["lot"], reading.row["characteristic"]].append(reading)
    found, undecided = set(), set()
    for (lot, characteristic), final in groups.items():
        again = [
            reading
            for reading in standing
            if reading.row["sample_kind"] in _AGAIN
            and (reading.row["lot"], reading.row["characteristic"]) == (lot, characteristic)
            and any(_piece(reading) == _piece(each) for each in final)
        ]
        what = final[-1].what
        assert what is not None
        counting, rejects = _pieces(final, again)
        settled = _settled(night, final)
        is_short = counting < what.acceptance_n and settled <= night.at_ms
        is_told = any(night.is_today(each.ms) for each in (*final, *again))
        is_told |= night.is_today(settled) and settled <= night.at_ms
        if is_told and (is_short or rejects > what.rejects_allowed):
            found.add(("X43", f"{lot} {characteristic}"))
        elsewhere = [reading for reading in (*final, *again) if not night.is_today(reading.ms)]
        if any(reading.row["sample_kind"] in (*RUN, *_AGAIN) for reading in elsewhere):
            undecided.add(("X43", f"{lot} {characteristic}"))
    return found, undecided


def _is_final(reading: Reading) -> bool:
    kind, plan, what = reading.row["sample_kind"], reading.plan, reading.what
    is_run = kind in RUN and plan is not None and plan.is_final
    return what is not None and what.acceptance_n > 0 and (is_run or kind in (SampleKind.ACCEPTANCE, SampleKind.TEST))


def _settled(night: Night, final: list[Reading]) -> int:
    """Return from when nothing more is to come: its sample was ended, or half an hour went by."""
    last = final[-1]
    names = ("lot", "operation", "characteristic", "sample")
    is_ended = any(
        act.page.series == last.home and all(getattr(end, name) == last.row[name] for name in names)
        for act, end in night.of(SampleEnd)
    )
    return last.ms + (0 if is_ended else _HALF_HOUR_MS)


def _piece(reading: Reading) -> tuple[str, int]:
    return reading.home, reading.row["piece"]


def _pieces(final: list[Reading], again: list[Reading]) -> tuple[int, int]:
    """Return how many pieces count, and how many are rejects."""
    pieces: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in (*final, *again):
        pieces[_piece(reading)].append(reading)
    counting = rejects = 0
    for each in pieces.values():
        sound = [reading for reading in each if reading.standing != "Blocked"]
        counting += bool(sound)
        is_bad = any(reading.verdict.is_bad for reading in sound)
        is_accused = not sound and any(reading.verdict.is_bad for reading in each)
        rejects += is_bad or is_accused
    return counting, rejects


def shipped_with_open(night: Night, raised: Sequence[Mapping[str, str]]) -> Named:
    """X84: pieces left while an exception of urgency A or B stood open on their lot (decision 0133)."""
    found = set()
    for act, ship in night.of(LotShip):
        if not night.is_today(act.ms):
            continue
        for row in raised:
            is_about = ship.lot in row["lots"].split(";") and row["urgency"] in ("A", "B") and row["number"] != "X84"
            if is_about and text_ms(row["opened_at"]) <= act.ms < _closed_ms(night, row):
                found.add(("X84", ship.lot))
    return found


def _closed_ms(night: Night, row: Mapping[str, str]) -> int:
    """Return when an exception closed; one that closed by no page was never open."""
    if row["state"] == "open":
        return night.at_ms + 1
    pages = row["closed_by"].replace(";", " ").replace(",", " ").split()
    times = [act.ms for act in night.acts if act.page.ref in pages]
    times += [reading.ms for reading in night.readings if reading.ref in pages]
    return max(times, default=-(10**15))
