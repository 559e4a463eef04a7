"""The fixed words of the lists, and what is known of each kind of gauge."""

from enum import StrEnum


class GaugeKind(StrEnum):
    """What a gauge is; decides what may be measured with it and what it needs."""

    MICROMETER = "micrometer"
    SNAP = "snap gauge"
    INDICATOR = "indicator"
    RUNOUT = "face-runout fixture"
    CALIPER = "caliper"
    PLAIN_PLUG = "plain plug"
    PLAIN_RING = "plain ring"
    FIXED_SNAP = "fixed snap"
    THREAD_RING = "thread ring"
    THREAD_PLUG = "thread plug"
    INDICATING_THREAD = "indicating thread gauge"
    OVER_WIRES = "over-wire micrometer"
    OPTICAL = "optical projector"
    ROUGHNESS = "roughness tester"
    HARDNESS = "hardness tester"
    TEST_FRAME = "test frame"
    EXTENSOMETER = "extensometer"
    TORQUE = "torque tool"
    THERMOMETER = "thermometer"
    SCALE = "scale"
    TIMER = "timer"

    @property
    def is_comparator(self) -> bool:
        """True for a gauge that is zeroed on a master and needs a zero check each person-shift."""
        return self in (GaugeKind.SNAP, GaugeKind.INDICATOR, GaugeKind.INDICATING_THREAD)

    @property
    def needs_day_check(self) -> bool:
        """True for a tester or frame that needs a good check in each production day."""
        return self in (GaugeKind.HARDNESS, GaugeKind.TEST_FRAME)

    @property
    def is_attribute(self) -> bool:
        """True for a gauge that accepts or rejects and gives no figure."""
        return self in (
            GaugeKind.PLAIN_PLUG,
            GaugeKind.PLAIN_RING,
            GaugeKind.FIXED_SNAP,
            GaugeKind.THREAD_RING,
            GaugeKind.THREAD_PLUG,
        )

    @property
    def is_thread_gauge(self) -> bool:
        """True for GO and NOT GO thread rings and plugs."""
        return self in (GaugeKind.THREAD_RING, GaugeKind.THREAD_PLUG)


SHORTEST_CREDIBLE_S = {
    GaugeKind.SNAP: 2,
    GaugeKind.MICROMETER: 3,
    GaugeKind.THREAD_RING: 6,
    GaugeKind.OVER_WIRES: 8,
    GaugeKind.HARDNESS: 10,
    GaugeKind.OPTICAL: 15,
}
"""N13: shortest credible time from piece to piece, in seconds, for the kinds that have one."""


class GaugeState(StrEnum):
    """Where a gauge stands; only a gauge in use is fit."""

    IN_USE = "In use"
    STOPPED = "Stopped"
    AWAITING = "Awaiting calibration"
    REFERENCE = "Reference only"
    LOST = "Lost"
    RETIRED = "Retired"


class Member(StrEnum):
    """Which member of a limit gauge."""

    GO = "GO"
    NOT_GO = "NOT GO"


class MasterKind(StrEnum):
    """What a master is."""

    BLOCKS = "gauge blocks"
    SETTING_PLUG = "setting plug"
    SETTING_RING = "setting ring"
    WIRES = "wire set"
    BENCH = "bench micrometer"
    HARDNESS_BLOCK = "hardness block"
    FORCE = "force standard"
    WEIGHT = "weight"
    SPECIMEN = "reference specimen"
    OTHER = "other"


class CharacteristicKind(StrEnum):
    """How a characteristic is limited and judged."""

    TWO_SIDED = "two-sided"
    UPPER = "upper limit only"
    LOWER = "lower limit only"
    ACCEPT_REJECT = "accept/reject"
    TURNS = "turns"
    COUNT = "count"
    VISUAL = "visual"


class Feature(StrEnum):
    """What a characteristic is of; decides which dispositions are legal."""

    EXTERNAL_ROLLED_THREAD = "external rolled thread"
    FILLET = "fillet"
    GROUND_DIAMETER = "ground diameter"
    HARDNESS = "hardness"
    TAPPED_THREAD = "tapped thread"
    FACE_RUNOUT = "face runout"
    STRENGTH = "tensile or fatigue"
    OTHER = "other"


class Level(StrEnum):
    """What a person is qualified as."""

    TRAINEE = "trainee"
    OPERATOR = "operator"
    TRAINER = "trainer"
    INSPECTOR = "inspector"
    FIRST_PIECE = "first-piece approver"
    LEAD = "shift lead"
    CALIBRATOR = "calibrator"
    DISPOSITION = "disposition authority"
    SEALER = "ledger sealer"
    QUALITY_MANAGER = "quality manager"


class LotState(StrEnum):
    """Where a lot stands."""

    RUNNING = "Running"
    ON_HOLD = "On hold"
    CLOSED = "Closed"
    SHIPPED = "Shipped"
    RE_OPENED = "Re-opened"
