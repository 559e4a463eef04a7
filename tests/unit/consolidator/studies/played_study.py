"""Plays a gauge study at an invented kiosk, blind and in order, with the figures of a published study."""

from pathlib import Path
from typing import Any, cast

from consolidator.intake import Intake
from consolidator.plant import Plant
from kiosk.pages import Page
from kiosk.pages.studies import GaugeStudyOrder
from kiosk.ports import MachineClock
from kiosk.station import Kept, Station
from kiosk.studies import collection_order
from tests.published import document
from tests.unit.carried import ZONE, MemoryBook, enrolled, make_plant, open_intake, packets_of, take_over_lists

APPRAISERS = {"P-101": "A", "P-102": "B", "P-103": "C"}
"""Who at the plant keys the readings of which appraiser of the published study."""
PIECES = tuple(f"piece {number}" for number in range(1, 11))


class PlayedStudy:
    """A station with a study of 10 x 3 x 3 readings, played turn by turn (data: AIAG MSA, 4th ed.)."""

    def __init__(self, plant: Plant, number: str = "GS-1", series: str = "S12-a") -> None:
        self._data: dict[str, Any] = document("t06_gauge_rr_examples")[0]["data"]
        self.book = MemoryBook(series=series)
        lists, self.number = take_over_lists(plant), number
        self.work = Station(cast(Kept, self.book), lists, number="S12", clock=MachineClock(ZONE), zone=ZONE)
        self.work.badge_in("P-104")
        self.work.order_study(
            GaugeStudyOrder(
                study=number,
                gauge="G-108",
                characteristic="BC1 <ground>",
                unit="in",
                tolerance="4",
                pieces=PIECES,
                appraisers=tuple(APPRAISERS),
                trials=3,
            )
        )

    @property
    def pages(self) -> list[Page]:
        """Every page of the kiosk's book."""
        return [page for page, _ in self.book.kept]

    def measure(self, *, count: int = 90) -> None:
        """Let each appraiser take his turns in order, as the kiosk asks for them."""
        study = self.work.state.studies[0]
        turns = collection_order(study.pieces, study.appraisers, study.trials, study.seed)
        for turn in turns[:count]:
            if self.work.state.person != turn.appraiser:
                self.work.badge_in(turn.appraiser)
            value = self._data[APPRAISERS[turn.appraiser]][turn.trial - 1][PIECES.index(turn.part)]
            self.work.key_study(self.number, f"{value}", gauge="G-108")

    def end(self, why_short: str | None = None) -> None:
        """Let the leader end it."""
        self.work.badge_in("P-104")
        self.work.end_study(self.number, why_short=why_short)


def carried(folder: Path, *, count: int = 90, why_short: str | None = None) -> tuple[Plant, PlayedStudy]:
    """Return a plant whose kiosk S12-a played a study and carried every page of it."""
    plant = make_plant(folder / "plant")
    played = PlayedStudy(plant)
    played.measure(count=count)
    played.end(why_short)
    keys = enrolled(plant, folder / "kiosk")
    intake: Intake = open_intake(plant)
    for packet in packets_of(played.book, keys):
        intake.take_in(packet)
    intake.close()
    return plant, played
