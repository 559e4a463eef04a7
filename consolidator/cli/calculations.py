"""The commands of the trade's own arithmetic: a thread and all its limits, wires, strength, hardness.

Thin: arguments in, tables or JSON out; what is reckoned is reckoned by `kiosk.threads` and `kiosk.measure`.
Figures in JSON are decimal text, exactly as printed.
"""

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from functools import partial
from typing import Annotated, Any, Final

import typer

from consolidator.cli.plant import AsJson
from consolidator.cli.printing import make_console, print_table
from consolidator.errors import NotComputed
from kiosk.errors import OutsideTheTable
from kiosk.measure import strength as loads
from kiosk.measure import wires as over
from kiosk.measure.decimals import write_figure
from kiosk.measure.hardness import Conversion, Scale, convert_hardness
from kiosk.measure.rounding import round_half_up, round_to_figures
from kiosk.threads.designations import thread_limits
from kiosk.threads.forms import Limits, ThreadLimits, lead_angle_degrees

calculations_app = typer.Typer()

CAUTION: Final = "Drawing, specification, contract and law come first: where they differ from this, stop and ask."
"""Stands under every figure that comes from a standard."""

Designation = Annotated[str, typer.Argument(help="The thread as the drawing writes it.", metavar="THREAD")]
Rows = Sequence[tuple[str, ...]]


def tell_tables(
    told: Mapping[str, Any], tables: Sequence[tuple[str, Rows]], words: Sequence[str], as_json: bool
) -> None:
    """Print JSON for machines, or each table (its title, its rows with the headings first), then the words."""
    if as_json:
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    console = make_console()
    for title, rows in tables:
        print_table(console, title, rows)
    for line in words:
        console.print(line)


def read_decimal(text: str) -> Decimal:
    """Read a figure of the command line exactly as it stands; a comma is refused."""
    try:
        value = Decimal(text)
    except InvalidOperation as error:
        raise typer.BadParameter(f"'{text}' is no figure; write digits and a point, like .02406.") from error
    if not value.is_finite():
        raise typer.BadParameter(f"'{text}' is no figure; write digits and a point, like .02406.")
    return value


_figure = partial(typer.Option, parser=read_decimal, metavar="FIGURE")


@calculations_app.command()
def thread(designation: Designation, as_json: AsJson = False) -> None:
    """Print every limit of a thread, its tolerances, lead angle, stress area and wires, and how each was reached.

    Example: consolidator thread ".3125-24 UNJF-3A"
    """
    found = thread_limits(designation)
    one = found.thread
    limits, beside = _limits_of(found), {**_beside(found), **_wires_of(found)}
    told = {
        "thread": one.text, "standard": found.standard, "unit": one.unit, "limits": limits, "beside": beside,
        "derivation": list(found.derivation), "caution": CAUTION,
    }  # fmt: skip
    heads = ("", "lower", "upper", "tolerance")
    rows: Rows = [(name, *(each[side] or "-" for side in heads[1:])) for name, each in limits.items()]
    title = f"{one.text}, {found.standard}, {one.unit}"
    tables: list[tuple[str, Rows]] = [
        (title, [heads, *rows]),
        ("Beside the limits", [("", ""), *beside.items()]),
    ]
    tell_tables(told, tables, ["How the limits were reached:", *found.derivation, CAUTION], as_json)


@calculations_app.command()
def wires(  # noqa: PLR0913 - each is an option of the command
    designation: Designation,
    wire: Annotated[
        list[Decimal] | None,
        _figure(help="Certified size; three times for the mean of a set."),
    ] = None,
    reading: Annotated[Decimal | None, _figure(help="What was read over the wires; gives the pitch diameter.")] = None,
    lead_angle: Annotated[bool, typer.Option("--lead-angle", help="Correct for the lead angle.")] = False,
    plug: Annotated[Decimal | None, _figure(help="Certified pitch diameter of the setting plug.")] = None,
    plug_reading: Annotated[Decimal | None, _figure(help="What was read over the same wires on the plug.")] = None,
    as_json: AsJson = False,
) -> None:
    """Print the wires of a thread, the readings over them at its limits, and the pitch diameter of a reading.

    All figures are in the thread's unit; without --wire the best wire stands for it.

    Example: consolidator wires ".3125-24 UNJF-3A" --wire .02406 --reading .3198
    """
    found = thread_limits(designation)
    if found.thread.is_internal:
        raise NotComputed(
            f"No wires for {designation}.",
            why="Wires lie over an external thread; this one is internal.",
            next_step="Name the external thread, for example .3125-24 UNJF-3A, or use thread plugs.",
        )
    size = _wire_of(wire, found)
    correction = over.lead_angle_correction(size, found.thread.pitch, found.basic_pitch_diameter)
    added = correction if lead_angle else Decimal(0)
    told: dict[str, Any] = {"thread": found.thread.text, "unit": found.thread.unit, **_wires_of(found)}
    told |= {"wire": write_figure(size), "is_usable": over.is_usable_wire(size, found.thread.pitch)}
    told |= {"lead_angle_correction": write_figure(correction), "is_corrected": lead_angle}
    for name, diameter in (
        ("lower", found.pitch.lower),
        ("basic", found.basic_pitch_diameter),
        ("upper", found.pitch.upper),
    ):
        told[f"reading_at_{name}"] = _over(diameter, size, found, added)
    if reading is not None:
        told["reading"] = write_figure(reading)
        told |= _pitch_diameter(found, size, reading, plug, plug_reading, added)
    words = [] if told["is_usable"] else ["This wire does not touch the flanks where it should: take another."]
    rows = [(name.replace("_", " "), _plain(value)) for name, value in told.items()]
    told["caution"] = CAUTION
    tell_tables(told, [("Over three wires", [("", ""), *rows])], [*words, CAUTION], as_json)


@calculations_app.command()
def strength(
    designation: Designation,
    property_class: Annotated[str | None, typer.Option("--class", help="Property class of ISO 898-1, metric.")] = None,
    grade: Annotated[str | None, typer.Option(help="Grade of SAE J429, inch.")] = None,
    load: Annotated[Decimal | None, _figure(help="A load, N or lbf; gives the stress.")] = None,
    as_json: AsJson = False,
) -> None:
    """Print the stress areas of a thread, and the least loads and properties of a class or grade.

    Example: consolidator strength M10x1.5-6g --class 10.9
    """
    found = thread_limits(designation)
    told: dict[str, Any] = {"thread": found.thread.text, **_areas(found)}
    if property_class is not None:
        told |= _class_told(found, property_class)
    if grade is not None:
        told |= _grade_told(found, grade)
    if load is not None:
        area = next(iter(_exact_areas(found).values()))
        told["load"] = write_figure(load)
        unit = "psi" if found.thread.is_inch else "MPa"
        told[f"stress on the first area, {unit}"] = write_figure(
            round_to_figures(loads.stress_from_load(load, area), 4)
        )
    words = ["Torque, preload and joint design are outside this.", CAUTION]
    rows = [(name, _plain(value)) for name, value in told.items()]
    told["caution"] = " ".join(words)
    tell_tables(told, [("Strength", [("", ""), *rows])], words, as_json)


@calculations_app.command()
def hardness(
    value: Annotated[Decimal, typer.Argument(parser=read_decimal, metavar="VALUE", help="The hardness, or MPa.")],
    scale: Annotated[Scale, typer.Option(help="The scale it was tested in.")] = Scale.VICKERS,
    as_json: AsJson = False,
) -> None:
    """Convert a hardness to the other scales as far as the table is valid; never instead of a test.

    Example: consolidator hardness 300 --scale HV
    """
    converted: dict[str, Any] = {}
    rows: list[tuple[str, ...]] = [("scale", "value", "")]
    cautions: dict[str, None] = {}
    refused: OutsideTheTable | None = None
    for to in (each for each in Scale if each is not scale):
        try:
            found: Conversion = convert_hardness(value, scale, to)
        except OutsideTheTable as outside:
            converted[to], refused = {"why": outside.why}, outside
            rows.append((to, "-", outside.why))
            continue
        converted[to] = {"value": write_figure(found.value), "is_tabulated": found.is_tabulated}
        rows.append((to, write_figure(found.value), "" if found.is_tabulated else "between two rows"))
        cautions.update(dict.fromkeys(found.cautions))
    if refused is not None and not cautions:
        raise refused
    told = {"value": write_figure(value), "scale": scale, "converted": converted, "cautions": list(cautions)}
    tell_tables(told, [(f"{write_figure(value)} {scale}, ISO 18265 table A.1", rows)], list(cautions), as_json)


def _limits_of(found: ThreadLimits) -> dict[str, dict[str, str | None]]:
    named = {"major diameter": found.major, "pitch diameter": found.pitch, "minor diameter": found.minor}
    if found.minor_rounded not in (found.minor, Limits(None, None)):
        named["minor diameter at the rounded root"] = found.minor_rounded
    if found.root_radius.lower is not None:
        named["root radius"] = found.root_radius
    return {
        name: {"lower": _text(each.lower), "upper": _text(each.upper), "tolerance": _text(each.tolerance)}
        for name, each in named.items()
    }


def _beside(found: ThreadLimits) -> dict[str, str]:
    one = found.thread
    beside = {"pitch": write_figure(round_half_up(one.pitch, "0.000001"))}
    if one.threads_per_inch is not None:
        beside["threads per inch"] = write_figure(one.threads_per_inch)
    if found.engagement is not None:
        beside["length of engagement"] = write_figure(round_half_up(found.engagement, "0.0001"))
    beside["allowance"] = write_figure(found.allowance)
    beside["basic pitch diameter"] = write_figure(found.basic_pitch_diameter)
    beside["basic minor diameter"] = write_figure(found.basic_minor_diameter)
    angle = lead_angle_degrees(found.basic_pitch_diameter, one.pitch)
    beside["lead angle at it, degrees, single start"] = write_figure(round_half_up(angle, "0.0001"))
    return beside | _areas(found)


def _exact_areas(found: ThreadLimits) -> dict[str, Decimal]:
    """The stress areas by the usual formulas, unrounded, the first the one loads are reckoned with."""
    one = found.thread
    if not one.is_inch:
        return {"stress area, mm2 (ISO 898-1)": loads.stress_area(one.diameter, one.pitch, loads.AreaFormula.ISO_898)}
    areas = {"stress area, in2 (ASME B1.1)": loads.stress_area(one.diameter, one.pitch, loads.AreaFormula.UNIFIED)}
    if not one.is_internal and found.pitch.lower is not None:
        least = loads.stress_area(found.pitch.lower, one.pitch, loads.AreaFormula.UNIFIED_PITCH)
        areas["stress area, in2, over 100 000 psi (ASME B1.1, least pitch diameter)"] = least
    return areas


def _areas(found: ThreadLimits) -> dict[str, str]:
    return {name: write_figure(round_to_figures(area, 3)) for name, area in _exact_areas(found).items()}


def _wires_of(found: ThreadLimits) -> dict[str, str]:
    if found.thread.is_internal:
        return {}
    smallest, largest = over.wire_range(found.thread.pitch)
    sizes = {"best wire": over.best_wire(found.thread.pitch), "smallest wire": smallest, "largest wire": largest}
    return {name: write_figure(round_half_up(size, "0.00001")) for name, size in sizes.items()}


def _wire_of(sizes: list[Decimal] | None, found: ThreadLimits) -> Decimal:
    if not sizes:
        return round_half_up(over.best_wire(found.thread.pitch), "0.00001")
    return sizes[0] if len(sizes) == 1 else over.mean_wire(sizes, unit=found.thread.unit)


def _over(diameter: Decimal | None, wire: Decimal, found: ThreadLimits, added: Decimal) -> str | None:
    if diameter is None:
        return None
    reading = over.measurement_over_wires(diameter, wire, found.thread.pitch, correction=added)
    return write_figure(round_half_up(reading, "0.000001"))


def _pitch_diameter(
    found: ThreadLimits,
    wire: Decimal,
    reading: Decimal,
    plug: Decimal | None,
    plug_reading: Decimal | None,
    added: Decimal,
) -> dict[str, str]:
    if plug is not None and plug_reading is not None:
        diameter = over.pitch_diameter_by_setting_plug(reading, plug_reading, plug)
        return {"pitch_diameter": write_figure(diameter), "formula": "by comparison with the setting plug"}
    diameter = over.pitch_diameter_over_wires(reading, wire, found.thread.pitch) - added
    return {"pitch_diameter": write_figure(diameter), "formula": over.FORMULA}


def _class_told(found: ThreadLimits, name: str) -> dict[str, str]:
    one = found.thread
    if one.is_inch:
        raise _not_of(name, "a property class of ISO 898-1", "metric", "--grade 8")
    least = loads.property_class(name, one.diameter)
    told = {
        "property class": least.name,
        "proof load, N": write_figure(loads.proof_load_n(name, one.diameter, one.pitch)),
        "ultimate load, N": write_figure(loads.ultimate_load_n(name, one.diameter, one.pitch)),
        "tensile strength, least, MPa": write_figure(least.tensile_min_mpa),
        "yield, least, MPa": write_figure(least.yield_min_mpa),
        "hardness, HV": " to ".join(write_figure(end) for end in least.vickers),
    }
    if least.rockwell_c is not None:
        told["hardness, HRC"] = " to ".join(write_figure(end) for end in least.rockwell_c)
    return told


def _grade_told(found: ThreadLimits, name: str) -> dict[str, str]:
    one = found.thread
    if not one.is_inch:
        raise _not_of(name, "a grade of SAE J429", "inch", "--class 10.9")
    least = loads.sae_grade(name, one.diameter)
    area = next(iter(_exact_areas(found).values()))
    stresses = {"proof": least.proof_psi, "ultimate": least.tensile_min_psi}
    told = {"grade": least.name}
    for kind, stress in stresses.items():
        told[f"{kind} stress, least, psi"] = write_figure(stress)
        told[f"{kind} load, lbf"] = write_figure(round_to_figures(loads.load_from_stress(stress, area), 3))
    told["core hardness"] = f"{least.core_min} to {least.core_max}"
    return told


def _not_of(name: str, what: str, system: str, other: str) -> NotComputed:
    return NotComputed(
        f"No values for {name}.",
        why=f"It is {what}, and those are for {system} threads.",
        next_step=f"Give {other}, or the {system} thread.",
    )


def _text(value: Decimal | None) -> str | None:
    return None if value is None else write_figure(value)


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "-" if value is None else str(value)
