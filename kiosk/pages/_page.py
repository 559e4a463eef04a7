"""The envelope around an act, its canonical bytes, and reading it back."""

import hashlib
import json
from typing import Annotated, Final, Literal

import rfc8785
from pydantic import Field, ValidationError

from kiosk.errors import NewerFormat, PageNotUnderstood
from kiosk.pages import desk, readings, station, studies
from kiosk.pages._base import Count, Fingerprint, Frozen, Name, Series
from kiosk.pages.words import ClockState
from kiosk.times import LocalTime

FORMAT: Final = 1
"""Version of the page format; a page with a higher one is refused by name."""

FIRST_PREVIOUS: Final = "0" * 64
"""What page 1 of a book holds in place of the fingerprint of the page before."""

AnyAct = Annotated[
    readings.Reading
    | readings.AskedAgain
    | readings.Check
    | readings.Countersign
    | readings.SampleEnd
    | readings.Correction
    | readings.ReMeasureOrder
    | station.BadgeIn
    | station.BadgeOut
    | station.JobOpen
    | station.GaugeScan
    | station.GaugeMovement
    | station.GaugeIncident
    | station.SetUpStart
    | station.SetUpChange
    | station.SetUpEnd
    | station.FirstPieceApproval
    | station.StopBegin
    | station.StopEnd
    | station.Changeover
    | station.OutOfHeat
    | station.HeatScan
    | station.PieceCount
    | station.MachineCounter
    | station.PowerOn
    | station.StoreChange
    | station.ClockSet
    | station.ListsTaken
    | station.Remark
    | station.MeasuringOrder
    | station.AcceptanceBegun
    | station.AcceptanceSigned
    | station.Refusal
    | studies.GaugeStudyOrder
    | studies.GaugeStudyReading
    | studies.GaugeStudyEnd
    | desk.Calibration
    | desk.Extension
    | desk.GaugeStateChange
    | desk.Disposition
    | desk.Release
    | desk.SecondSignature
    | desk.TestRecord
    | desk.LotClose
    | desk.LotReopen
    | desk.LotShip
    | desk.OperationSignOff
    | desk.Hold
    | desk.HoldLift
    | desk.ExceptionStep
    | desk.ExceptionClose
    | desk.Evaluation
    | desk.CustomerNotice
    | desk.LookBackWindow
    | desk.PagesLost
    | desk.ListsTakenOver
    | desk.KioskEnrolled
    | desk.KioskWithdrawn
    | desk.Seal
    | desk.LedgerRead
    | desk.StationMessage,
    Field(discriminator="kind"),
]
"""Any act a page can hold; `kind` tells which."""


class Page(Frozen):
    """One record of a numbered book: an envelope around an act.

    `running_ms` counts milliseconds since switch-on within power-on `session` (1, 2, … per book).
    `lists_taken_at` is when this kiosk took the lists it judged with; none before the first.
    """

    format: Literal[1] = FORMAT
    plant: Name
    series: Series
    number: Annotated[int, Field(ge=1, le=9_999_999_999)]
    station: Name
    kiosk_time: LocalTime
    running_ms: Annotated[int, Field(ge=0, le=10**15)]
    session: Annotated[int, Field(ge=1, le=10**9)]
    clock_state: ClockState = ClockState.AGREED
    person: Name | None = None
    lists_version: Count = 0
    lists_taken_at: LocalTime | None = None
    previous: Fingerprint
    filler: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    act: AnyAct

    @property
    def ref(self) -> str:
        """Series and number, the way other pages name this one, e.g. `S12-a/1877`."""
        return f"{self.series}/{self.number}"


def canonical_bytes(page: Page) -> bytes:
    """Return the page's bytes by RFC 8785; these are stored, carried, hashed and checked, never made anew.

    A field without a value is left out.
    """
    return rfc8785.dumps(page.model_dump(mode="json", exclude_none=True))


def fingerprint(page_bytes: bytes) -> str:
    """Return SHA-256 (FIPS 180-4) of a page's bytes as received, in hexadecimal digits."""
    return hashlib.sha256(page_bytes).hexdigest()


def read_page(page_bytes: bytes) -> Page:
    """Return the page that `page_bytes` hold.

    Raises:
        NewerFormat: the page was made by a newer version of the program.
        PageNotUnderstood: the bytes are no page, or no canonical bytes.
    """
    try:
        raw = json.loads(page_bytes)
    except (ValueError, RecursionError) as error:
        raise _not_understood(f"the bytes are not JSON ({error})") from error
    version = raw.get("format") if isinstance(raw, dict) else None
    if isinstance(version, int) and version > FORMAT:
        raise NewerFormat(
            f"Page not read: it has page format {version}.",
            why=f"This program knows page formats up to {FORMAT}.",
            next_step="Update this program, then load the page again; it is kept as it is.",
        )
    try:
        page = Page.model_validate_json(page_bytes)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise _not_understood(f"field {where}: {first['msg']}") from error
    if canonical_bytes(page) != page_bytes:
        raise _not_understood("its bytes are not the canonical ones (RFC 8785)")
    return page


def _not_understood(reason: str) -> PageNotUnderstood:
    return PageNotUnderstood(
        "Page not read.",
        why=f"This is no page of a numbered book: {reason}.",
        next_step="Keep the bytes as they are and tell the quality manager.",
    )
