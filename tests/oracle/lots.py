"""What is found of a lot as a whole: its heat and its pieces (X42, X52)."""

from kiosk.pages.station import HeatScan, PieceCount
from tests.oracle.night import ActAt, Night
from tests.oracle.samples import Named


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
