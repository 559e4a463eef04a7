"""What a kind of gauge sends over a serial line, written down in one plain file a kind, and which gauge is on which.

Owns the description files' shape and the kiosk's own `gauges.toml`. Opens no line and knows no screen.
"""

import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Annotated, Final, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from kiosk.errors import GaugeFileNotUnderstood
from kiosk.said import say

GAUGES_FILE: Final = "gauges.toml"
"""In a kiosk's folder: which gauge is plugged in where, and of which kind it is."""
FILE_LIMIT_BYTES: Final = 65_536
"""A description has twenty lines; what is longer is no description."""


Model = TypeVar("Model", bound=BaseModel)


class _Plain(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class LineSetting(_Plain):
    """How the line itself is set, as the gauge's own papers say."""

    baud: Annotated[int, Field(ge=50, le=115_200)] = 9600
    data_bits: Literal[7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1


class Frame(_Plain):
    """Where one value begins and ends. Without `start`, it begins after the end of the one before."""

    start: Annotated[str, Field(min_length=1, max_length=4)] | None = None
    end: Annotated[str, Field(min_length=1, max_length=4)]
    longest: Annotated[int, Field(ge=1, le=64)]
    """Most characters between start and end; more is noise."""
    rest_ms: Annotated[int, Field(ge=10, le=5000)] = 500
    """Silence after which a begun value does not go on; at 300 baud a character takes 37 ms."""


class ReadingPattern(_Plain):
    """What stands between start and end: a regular expression that must fit all of it."""

    pattern: Annotated[str, Field(max_length=400)]
    """With the groups `digits`, where the gauge sends one `sign`, and where it sends one `unit`."""
    unit: str | None = None
    """Unit of a gauge that sends none."""
    units: dict[str, str] = {}
    """What the gauge calls a unit, and what it is called here."""

    @model_validator(mode="after")
    def _has_one_unit(self) -> Self:
        try:
            groups = set(re.compile(self.pattern, re.ASCII).groupindex)
        except re.error as error:
            raise ValueError(f"the pattern is no regular expression: {error}") from error
        if "digits" not in groups:
            raise ValueError("the pattern has no group called digits")
        if ("unit" in groups) == (self.unit is not None) or ("unit" in groups) != bool(self.units):
            raise ValueError("either the pattern has a group called unit with its units, or a unit stands beside it")
        return self


class Request(_Plain):
    """What asks the gauge for a value; a gauge without one sends when its button or foot switch is pressed."""

    command: Annotated[str, Field(min_length=1, max_length=32)]


class Kind(_Plain):
    """A kind of gauge as it speaks on a serial line."""

    words: str
    sends: Literal["value", "deviation"]
    """The whole value, or how far it stands from the zero it was set to."""
    line: LineSetting = LineSetting()
    frame: Frame
    reading: ReadingPattern
    request: Request | None = None


class PluggedGauge(_Plain):
    """One gauge and the port it is plugged into; what comes from that port is this gauge's and no other's."""

    gauge: Annotated[str, Field(min_length=1, max_length=40)]
    port: str
    kind: str
    """A kind that comes with the program, or the name of a description file in the kiosk's folder."""


class _GaugesFile(_Plain):
    gauge: tuple[PluggedGauge, ...] = ()

    @model_validator(mode="after")
    def _has_no_twins(self) -> Self:
        for what in ("gauge", "port"):
            named = [getattr(one, what) for one in self.gauge]
            if len(set(named)) < len(named):
                raise ValueError(f"a {what} is named twice")
        return self


def read_gauges(folder: Path) -> tuple[tuple[PluggedGauge, Kind], ...]:
    """Return the gauges plugged into the kiosk of `folder` with their kinds; none without the file.

    Raises:
        GaugeFileNotUnderstood: the file or a description cannot be read.
    """
    path = folder / GAUGES_FILE
    if not path.exists():
        return ()
    plugged = _read(path.name, _bytes_of(path), _GaugesFile).gauge
    return tuple((one, read_kind(one.kind, folder)) for one in plugged)


def read_kind(name: str, folder: Path) -> Kind:
    """Return a kind by its name: one of the program's own, or a description file in `folder`.

    Raises:
        GaugeFileNotUnderstood: there is no such kind, or its description cannot be read.
    """
    own = resources.files("kiosk.devices") / "descriptions" / f"{name}.toml"
    if re.fullmatch(r"[a-z][a-z-]*", name) and own.is_file():
        return _read(name, own.read_bytes(), Kind)
    return _read(name, _bytes_of(folder / Path(name).name), Kind)


def own_kinds() -> tuple[str, ...]:
    """Return the names of the kinds that come with the program."""
    folder = resources.files("kiosk.devices") / "descriptions"
    return tuple(sorted(path.name.removesuffix(".toml") for path in folder.iterdir() if path.name.endswith(".toml")))


def _bytes_of(path: Path) -> bytes:
    try:
        with path.open("rb") as opened:
            return opened.read(FILE_LIMIT_BYTES)
    except OSError as error:
        raise _not_understood(path.name, str(error.strerror)) from error


def _read(name: str, raw: bytes, model: type[Model]) -> Model:
    try:
        return model.model_validate(tomllib.loads(raw.decode("utf-8")))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise _not_understood(name, f"{where}: {first['msg']}") from error
    except ValueError as error:
        raise _not_understood(name, str(error)) from error


def _not_understood(name: str, why: str) -> GaugeFileNotUnderstood:
    return GaugeFileNotUnderstood(
        say("Not read: {file}, which says what gauges are plugged in.", file=name),
        why=say("{words}.", words=why),
        next_step=say("Put the file right and start the kiosk again. Until then key what the gauges show."),
    )
