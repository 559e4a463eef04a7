"""Each reason a kiosk can find, as one small function, and what it does to the standing."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal
from typing import Final

from kiosk.judge._figures import Figures, value_or_none, wires_fit
from kiosk.judge._given import Around, Given
from kiosk.judge._verdict import comparable_in, limits_in, window_of
from kiosk.lists import Gauge, Lists, Master, PlantNumbers
from kiosk.lists.words import CharacteristicKind, Feature
from kiosk.measure import slips, units
from kiosk.pages.words import SampleKind, Source, Standing, Verdict

EFFECT: Final = {
    "X01": Standing.BLOCKED,
    "X02": Standing.COUNTS,
    "X03": Standing.BLOCKED,
    "X04": Standing.BLOCKED,
    "X05": Standing.BLOCKED,
    "X10": Standing.BLOCKED,
    "X11": Standing.FLAGGED,
    "X12": Standing.BLOCKED,
    "X13": Standing.FLAGGED,
    "X15": Standing.FLAGGED,
    "X16": Standing.BLOCKED,
    "X17": Standing.BLOCKED,
    "X18": Standing.BLOCKED,
    "X19": Standing.BLOCKED,
    "X20": Standing.FLAGGED,
    "X23": Standing.COUNTS,
    "X24": Standing.FLAGGED,
    "X25": Standing.FLAGGED,
    "X26": Standing.BLOCKED,
    "X27": Standing.BLOCKED,
    "X28": Standing.BLOCKED,
    "X29": Standing.FLAGGED,
    "X30": Standing.BLOCKED,
    "X31": Standing.FLAGGED,
    "X33": Standing.BLOCKED,
    "X44": Standing.BLOCKED,
    "X45": Standing.BLOCKED,
    "X53": Standing.BLOCKED,
    "X58": Standing.BLOCKED,
    "X59": Standing.FLAGGED,
    "X60": Standing.BLOCKED,
    "X62": Standing.BLOCKED,
    "X65": Standing.BLOCKED,
    "X66": Standing.FLAGGED,
    "X75": Standing.FLAGGED,
    "X78": Standing.FLAGGED,
}
"""What each reason does to a reading's standing; slips only where the kiosk never asked."""

_WORST_LAST: Final = (Standing.COUNTS, Standing.FLAGGED, Standing.BLOCKED)
_SLIPS: Final = frozenset({"X26", "X27", "X28", "X30"})


@dataclass(frozen=True)
class Scene:
    """A reading with all it is judged on, at its moment."""

    given: Given
    figures: Figures
    lists: Lists
    numbers: PlantNumbers
    around: Around
    moment: datetime
    zone: tzinfo

    @property
    def gauge(self) -> Gauge | None:
        """The gauge as the register has it at the moment."""
        return None if self.given.gauge is None else self.lists.gauge(self.given.gauge, self.moment)

    @property
    def master(self) -> Master | None:
        """The master or wire set that was scanned with the gauge."""
        return None if self.given.master is None else self.lists.master(self.given.master, self.moment)


def worst_standing(reasons: tuple[str, ...], otherwise: Mapping[str, Standing] | None = None) -> Standing:
    """Return the worst standing of all `reasons`; `otherwise` names those that weigh differently here."""
    effects = [(otherwise or {}).get(reason, EFFECT[reason]) for reason in reasons]
    return max(effects, key=_WORST_LAST.index, default=Standing.COUNTS)


def reading_reasons(scene: Scene, verdict: Verdict) -> Iterator[str]:
    """Yield what the figure itself says: X23-X25, X31, X33, X78."""
    if verdict.is_bad:
        yield "X23"
    if verdict is Verdict.IN and _is_over_shop_limit(scene):
        yield "X24"
    if verdict is Verdict.IN and _is_close(scene):
        yield "X25"
    if scene.around.is_double_tap:
        yield "X33"
    if scene.given.source is Source.PAPER:
        yield "X78"


def lot_reasons(scene: Scene) -> Iterator[str]:
    """Yield what speaks against lot, set-up and process: X44, X45, X53, X62, X75."""
    given = scene.given
    lot = scene.lists.lot(given.lot)
    if lot is None:
        yield "X44"
    elif lot.part != given.part:
        yield "X45"
    if scene.around.is_first_piece_missing and given.sample_kind is SampleKind.RUN:
        yield "X53"
    is_rolled = given.characteristic.feature is Feature.EXTERNAL_ROLLED_THREAD
    if is_rolled and given.sample_kind is SampleKind.RE_WORK:
        yield "X62"
    taken = scene.around.lists_taken_at
    if taken is not None and scene.moment - taken > timedelta(hours=scene.numbers.lists_flagged_h):
        yield "X75"


def slips_of(scene: Scene, verdict: Verdict) -> tuple[str, ...]:
    """Return every slip that fits: X26-X28 or X30 outside the believable window, and X29 for a mirrored deviation."""
    given, value = scene.given, scene.figures.value
    limits = limits_in(given.characteristic, given.unit)
    window = None if limits is None else window_of(limits, scene.numbers)
    if limits is None or window is None or value is None:
        return ()
    found = slips.fitting_slips(
        comparable_in(value, given.characteristic, given.unit),
        unit=given.unit,
        keyed=given.keyed,
        limits=limits,
        window=window,
        value_of=lambda text: _comparable_of(scene, text),
    )
    mirrored = scene.figures.mirrored
    if verdict is Verdict.OUT and mirrored is not None:
        is_mirror_in = limits.has(comparable_in(mirrored, given.characteristic, given.unit))
        found = tuple(sorted((*found, slips.PLUS_MINUS))) if is_mirror_in else found
    return found


def is_not_judged(found: tuple[str, ...]) -> bool:
    """True when a slip nobody was asked about leaves the reading without a verdict (X26-X28, X30; X29 does not)."""
    return not _SLIPS.isdisjoint(found)


def why_not_judged(scene: Scene, verdict: Verdict) -> tuple[str, ...]:
    """Return why there is no verdict where no slip explains it: units apart (X27), or nothing that can be judged (X30).

    Every reading without a verdict has a reason that blocks it; wires that do not fit have their own (X19).
    """
    characteristic = scene.given.characteristic
    is_by_wires = characteristic.rule == "over wires" and not wires_fit(characteristic, scene.master)
    if verdict is not Verdict.NOT_JUDGED or is_by_wires:
        return ()
    is_figure = characteristic.kind in (
        CharacteristicKind.TWO_SIDED,
        CharacteristicKind.UPPER,
        CharacteristicKind.LOWER,
    )
    is_apart = is_figure and not units.are_alike(characteristic.unit, scene.given.unit)
    return (slips.OTHER_UNIT,) if is_apart else (slips.NOT_BELIEVABLE,)


def _comparable_of(scene: Scene, keyed: str) -> Decimal | None:
    value = value_or_none(scene.given, scene.lists, scene.moment, keyed)
    return None if value is None else comparable_in(value, scene.given.characteristic, scene.given.unit)


def _is_over_shop_limit(scene: Scene) -> bool:
    characteristic, value = scene.given.characteristic, scene.figures.value
    if characteristic.shop_limit is None or value is None:
        return False
    shop = units.in_one_unit(Decimal(characteristic.shop_limit), characteristic.unit, other=scene.given.unit)
    held = comparable_in(value, characteristic, scene.given.unit)
    if characteristic.kind is CharacteristicKind.UPPER:
        return held > shop
    return characteristic.kind is CharacteristicKind.LOWER and held < shop


def _is_close(scene: Scene) -> bool:
    characteristic, value = scene.given.characteristic, scene.figures.value
    limits = limits_in(characteristic, scene.given.unit)
    if characteristic.guard_band is None or value is None or limits is None:
        return False
    band = units.in_one_unit(Decimal(characteristic.guard_band), characteristic.unit, other=scene.given.unit)
    return limits.is_close(comparable_in(value, characteristic, scene.given.unit), band)
