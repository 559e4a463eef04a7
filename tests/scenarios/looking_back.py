"""What a scenario expects of a look-back, held against the look-back itself."""

import time
from collections.abc import Iterator
from datetime import timedelta

from consolidator.intake import Archive
from consolidator.lookback import LookBack
from consolidator.lookback.at_plant import look_back_at
from consolidator.lookback.told import told
from demo_site.play.played import Played
from demo_site.play.scenario import Check
from kiosk.times import day_bounds_utc

AFTER = timedelta(hours=3)
"""A look-back is asked for so long after the last day that was closed."""


def look_back_of(played: Played, number: str) -> LookBack:
    """Return the look-back of a gauge or master, as known after the last close."""
    at = day_bounds_utc(played.days()[-1], played.plant.zone)[1] + AFTER
    with Archive(played.plant) as archive:
        return look_back_at(played.plant, number, at=at, archive=archive)


def look_back_misses(played: Played, check: Check) -> Iterator[str]:
    """Say what is not so of a look-back: its readings, its lots in order, how long it took."""
    begun = time.perf_counter()
    whole = told(look_back_of(played, check.of))
    seconds, lots = time.perf_counter() - begun, [lot["lot"] for lot in whole["lots"]]
    for figure, wanted in check.told.items():
        if figure == "readings" and str(whole["readings"]) != wanted:
            yield f"{whole['readings']} readings in question, expected {wanted}"
        if figure == "seconds under" and seconds >= float(wanted):
            yield f"it took {seconds:.1f} s, expected under {wanted}"
        if figure == "lacks lot" and wanted in lots:
            yield f"{wanted} is among {lots}"
        if figure == "lots in order" and lots != list(wanted):
            yield f"lots are {lots}, expected {list(wanted)}"
        if figure == "notices to" and [each["lot"] for each in whole["notices"]] != _list(wanted):
            yield f"notices are prepared for {[each['lot'] for each in whole['notices']]}, expected {_list(wanted)}"


def lot_misses(played: Played, check: Check) -> Iterator[str]:
    """Say what is not so of one lot of a gauge's look-back: urgency, hold, worst finding, words."""
    (lot,) = [lot for lot in told(look_back_of(played, check.told["gauge"]))["lots"] if lot["lot"] == check.of] or [
        None
    ]
    if lot is None:
        yield f"{check.of} is not in the look-back of {check.told['gauge']}"
        return
    shown = {"urgency": lot["urgency"], "hold": "yes" if lot["hold"] else "no", "worst": lot["worst"]}
    for figure, wanted in check.told.items():
        if figure in shown and shown[figure] != wanted:
            yield f"{check.of}: {figure} is {shown[figure]}, expected {wanted}"
        if figure == "says" and wanted not in f"{lot['sentence']} {lot['action']}":
            yield f"{check.of}: says '{lot['sentence']} {lot['action']}', without '{wanted}'"


def finding_misses(played: Played, check: Check) -> Iterator[str]:
    """Say what is not so of the finding of each reading named, in the look-back of the gauge it was taken with."""
    rows = played.readings()
    for page in played.pages(check.of):
        whole = told(look_back_of(played, rows[page]["gauge"]))
        found = {row["page"]: row for lot in whole["lots"] for row in lot["readings"]}
        if page not in found:
            yield f"{page} is not in question"
            continue
        if found[page]["finding"] != check.told.get("is", found[page]["finding"]):
            yield f"{page}: finding is {found[page]['finding']}, expected {check.told['is']}"
        if found[page]["true"] != check.told.get("true", found[page]["true"]):
            yield f"{page}: true is {found[page]['true']}, expected {check.told['true']}"


def _list(wanted: object) -> list[str]:
    return [wanted] if isinstance(wanted, str) else [str(each) for each in wanted]  # type: ignore[attr-defined]
