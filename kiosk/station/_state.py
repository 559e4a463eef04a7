"""Where the work at a station stands: one frozen value that a screen draws and a page moves on."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Final, Literal

from pydantic import ConfigDict, Field

from kiosk.pages import Frozen
from kiosk.pages._base import Figure, Keyed, Name, PageRef
from kiosk.pages.readings import Keying
from kiosk.pages.words import CheckVerdict, SampleKind, Standing, Verdict
from kiosk.station._exchange import Paper
from kiosk.studies import Turn, collection_order

BLIND: Final = frozenset({SampleKind.FIRST, SampleKind.REFEREE, SampleKind.RE_MEASURE})
"""Samples in which limits and earlier values stay hidden until all are in."""


class Job(Frozen):
    """The lot and operation worked here now."""

    lot: Name
    operation: Name
    part: Name
    typed: bool = False


class GaugeInHand(Frozen):
    """A gauge taken up for a characteristic, until the sample ends or it lay idle too long."""

    characteristic: Name
    gauge: Name
    master: Name | None = None
    typed: tuple[Literal["gauge", "master"], ...] = ()
    person: Name | None = None
    told: tuple[Name, ...] = ()
    page: int
    """Page of its scan."""
    used_at: datetime
    """When it was scanned or last read."""
    used_running_ms: int
    session: int


class KeptPiece(Frozen):
    """The keying that stands for one piece of an open sample."""

    piece: int
    page: int
    keyed: Keyed
    verdict: Verdict
    standing: Standing
    paper: Paper | None = None
    """The form it was keyed from, so that the rest of the form goes on after a power cut."""


class Sample(Frozen):
    """An open sample of one characteristic; `planned` pieces are asked for."""

    lot: Name
    operation: Name
    characteristic: Name
    number: int
    kind: SampleKind
    planned: int
    pieces: tuple[KeptPiece, ...] = ()
    countersigned_by: Name | None = None
    countersigned_for: Name | None = None
    re_measure_of: PageRef | None = None

    @property
    def next_piece(self) -> int:
        """The piece number asked for next."""
        return max((kept.piece for kept in self.pieces), default=0) + 1

    @property
    def got(self) -> int:
        """Pieces with a keying."""
        return len(self.pieces)

    @property
    def counting(self) -> int:
        """Pieces whose reading fills a place; a blocked one never does."""
        return sum(kept.standing is not Standing.BLOCKED for kept in self.pieces)

    @property
    def is_blind(self) -> bool:
        """True while limits and earlier values must stay hidden."""
        return self.kind in BLIND and self.got < self.planned

    def piece(self, number: int) -> KeptPiece | None:
        """Return the keying that stands for a piece."""
        return next((kept for kept in self.pieces if kept.piece == number), None)


class SetUp(Frozen):
    """The set-up of one operation at this station."""

    number: Name
    lot: Name
    part: Name
    operation: Name
    set_by: Name
    is_hot: bool = False
    state: Literal["Awaiting first piece", "Approved", "Changed", "Ended"] = "Awaiting first piece"
    began_at: datetime
    approved_by: Name | None = None
    first_pieces: tuple[PageRef, ...] = ()
    ran_by: tuple[Name, ...] = ()
    """Who took run readings on it."""


class GaugeCheck(Frozen):
    """What the station knows of one gauge's zero or day checks."""

    last_verdict: CheckVerdict
    last_at: datetime
    good_at: datetime | None = None
    good_day: date | None = None
    by: tuple[tuple[Name, date, int], ...] = ()
    """Person-shifts with a check: person, production day, shift."""


class Stop(Frozen):
    """The machine stands since then."""

    since: datetime
    reason: Name


class LastReading(Frozen):
    """The reading kept last, to know a double tap."""

    lot: Name
    characteristic: Name
    piece: int
    value: Figure | None
    keyed: Keyed
    at: datetime


class Round(Frozen):
    """One sample number of a lot at an operation: which characteristics have it, and when it was last worked on."""

    number: int
    characteristics: frozenset[Name]
    last_at: datetime


class Study(Frozen):
    """A gauge study under way: its order, and which turns have a reading."""

    order: PageRef
    """Page of its order."""
    number: Name
    gauge: Name
    unit: Name
    leader: Name | None
    pieces: tuple[Name, ...]
    appraisers: tuple[Name, ...]
    trials: int
    seed: Name
    taken: Mapping[int, int] = Field(default_factory=dict)
    """Page of the keying that stands, by turn."""

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Every measurement it asks for, in order."""
        return collection_order(self.pieces, self.appraisers, self.trials, self.seed)


class State(Frozen):
    """The work at a station as it stands; made from nothing but the pages of its own book."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)

    person: Name | None = None
    badged_at: datetime | None = None
    job: Job | None = None
    gauges: tuple[GaugeInHand, ...] = ()
    samples: tuple[Sample, ...] = ()
    set_ups: tuple[SetUp, ...] = ()
    """Not ended ones, the newest last."""
    stop: Stop | None = None
    checks: Mapping[Name, GaugeCheck] = Field(default_factory=dict)
    incidents: Mapping[Name, datetime] = Field(default_factory=dict)
    """Gauges something befell, and when."""
    issued: frozenset[Name] = frozenset()
    """Gauges issued to or borrowed by this station."""
    out_of_heat: Mapping[tuple[Name, int | None], datetime] = Field(default_factory=dict)
    """By lot and piece (none: all of them)."""
    asked: Mapping[tuple[Name, Name, Name, int, int], tuple[Keying, ...]] = Field(default_factory=dict)
    """By lot, operation, characteristic, sample and piece: what was keyed and asked about, until the answer is kept."""
    rounds: Mapping[tuple[Name, Name], Round] = Field(default_factory=dict)
    """The latest sample number by lot and operation."""
    studies: tuple[Study, ...] = ()
    """Gauge studies ordered here and not ended."""
    is_piece_by_piece: bool = False
    """All characteristics of a piece are measured before the next piece."""
    cleared_for: Name | None = None
    """The lot the line was last cleared for."""
    last_reading: LastReading | None = None
    session: int = 0
    """The power-on of the last page."""
    last_page: int = 0

    def sample_of(self, characteristic: str) -> Sample | None:
        """Return the open sample of a characteristic of the job."""
        job = self.job
        if job is None:
            return None
        wanted = (job.lot, job.operation, characteristic)
        return next((s for s in self.samples if (s.lot, s.operation, s.characteristic) == wanted), None)

    def gauge_for(self, characteristic: str) -> GaugeInHand | None:
        """Return the gauge taken up for a characteristic."""
        return next((taken for taken in self.gauges if taken.characteristic == characteristic), None)

    def set_up_of(self, operation: str) -> SetUp | None:
        """Return the current set-up of an operation."""
        return next((s for s in reversed(self.set_ups) if s.operation == operation), None)
