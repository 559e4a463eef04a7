"""Thread designations as drawings write them, read into their parts.

Owns the grammar of ASME B1.1, B1.15, ISO 965-1, B1.13M and ISO 5855 designations.
Knows no tolerance itself: `unified` and `metric` beside it do.
"""

import re
from decimal import Decimal
from fractions import Fraction

from kiosk.errors import ThreadNotUnderstood
from kiosk.measure.rounding import EXACT
from kiosk.threads.forms import Form, Thread, ThreadLimits
from kiosk.threads.metric import metric_limits
from kiosk.threads.unified import unified_limits

_LONGEST_TEXT = 60
"""Characters; no designation of these standards comes near it."""

EXAMPLES = ".3125-24 UNJF-3A, 1/4-20 UNC-2B, #10-32 UNF-3A, M10x1.5-6g, MJ8x1-4h6h, M10-6H-LH"


def _pairs(rows: str) -> frozenset[tuple[Decimal, Decimal]]:
    """Read `size:threads` words; a size is #number, or inches as whole+fraction with an underscore."""
    pairs = set()
    for word in rows.split():
        size, _, tpi = word.partition(":")
        if size.startswith("#"):
            diameter = Decimal("0.060") + Decimal("0.013") * int(size[1:])
        else:
            inches = sum((Fraction(part) for part in size.split("_")), Fraction(0))
            diameter = Decimal(inches.numerator) / inches.denominator
        pairs.add((diameter, Decimal(tpi)))
    return frozenset(pairs)


UNIFIED_SERIES: dict[str, frozenset[tuple[Decimal, Decimal]]] = {
    "C": _pairs(
        "#1:64 #2:56 #3:48 #4:40 #5:40 #6:32 #8:32 #10:24 #12:24 1/4:20 5/16:18 3/8:16 7/16:14 1/2:13 9/16:12"
        " 5/8:11 3/4:10 7/8:9 1:8 1_1/8:7 1_1/4:7 1_3/8:6 1_1/2:6 1_3/4:5 2:4.5 2_1/4:4.5 2_1/2:4 2_3/4:4"
        " 3:4 3_1/4:4 3_1/2:4 3_3/4:4 4:4"
    ),
    "F": _pairs(
        "#0:80 #1:72 #2:64 #3:56 #4:48 #5:44 #6:40 #8:36 #10:32 #12:28 1/4:28 5/16:24 3/8:24 7/16:20 1/2:20"
        " 9/16:18 5/8:18 3/4:16 7/8:14 1:12 1_1/8:12 1_1/4:12 1_3/8:12 1_1/2:12"
    ),
    "EF": _pairs(
        "#12:32 1/4:32 5/16:32 3/8:32 7/16:28 1/2:28 9/16:24 5/8:24 11/16:24 3/4:20 13/16:20 7/8:20 15/16:20"
        " 1:20 1_1/16:18 1_1/8:18 1_3/16:18 1_1/4:18 1_5/16:18 1_3/8:18 1_7/16:18 1_1/2:18 1_9/16:18 1_5/8:18"
        " 1_11/16:18"
    ),
}
"""Coarse, fine and extra-fine series of ASME B1.1: (basic major diameter in inch, threads per inch).

From memory of the standard's tables; every pair that also stands in tests/published agrees.
"""

COARSE_PITCH_MM: dict[Decimal, Decimal] = {
    Decimal(diameter): Decimal(pitch)
    for pitch, diameters in (
        ("0.25", "1 1.1 1.2"),
        ("0.3", "1.4"),
        ("0.35", "1.6 1.8"),
        ("0.4", "2"),
        ("0.45", "2.2 2.5"),
        ("0.5", "3"),
        ("0.6", "3.5"),
        ("0.7", "4"),
        ("0.75", "4.5"),
        ("0.8", "5"),
        ("1", "6 7"),
        ("1.25", "8 9"),
        ("1.5", "10 11"),
        ("1.75", "12"),
        ("2", "14 16"),
        ("2.5", "18 20 22"),
        ("3", "24 27"),
        ("3.5", "30 33"),
        ("4", "36 39"),
        ("4.5", "42 45"),
        ("5", "48 52"),
        ("5.5", "56 60"),
        ("6", "64 68"),
    )
    for diameter in diameters.split()
}
"""Coarse pitch of ISO 261 by nominal diameter, both in millimetres (from memory)."""


_SIZE = r"(?P<size>(?:\#|NO\.?\s?)\d{1,2}|\d+[ -]\d+/\d+|\d+/\d+|\d*\.\d+|\d+)"
_UNIFIED = re.compile(
    rf"^{_SIZE}\s*-\s*(?P<tpi>\d+\s1/2|\d+(?:\.\d+)?)\s*-?\s*"
    r"(?P<form>UN[RJ]?)(?P<series>EF|C|F|S)?\s*-?\s*(?P<cls>\d[A-Z])?(?P<rest>.*)$",
    re.ASCII,
)
_METRIC = re.compile(
    r"^(?P<form>MJ?)\s*(?P<d>\d+(?:\.\d+)?)(?:\s*[xX×]\s*(?P<p>\d+(?:\.\d+)?))?"
    r"(?:\s*-\s*(?P<cls>(?:\d[a-zA-Z]){1,2}))?(?P<rest>.*)$",
    re.ASCII,
)
_LENGTH = re.compile(r"^\(?\s*LE\s*=?\s*(?P<le>\d*\.?\d+)\s*\)?", re.ASCII)


def parse_designation(text: str) -> Thread:
    """Read a thread designation as a drawing writes it, e.g. `.3125-24 UNJF-3A` or `M10x1.5-5g6g-LH`.

    Raises:
        ThreadNotUnderstood: the text is not a designation, or names a thread its standard does not have.
    """
    tidy = " ".join(text.replace("–", "-").replace("½", " 1/2").split())
    if len(tidy) > _LONGEST_TEXT or not tidy.replace("×", "x").isascii():
        raise refuse(tidy[:_LONGEST_TEXT], "It is longer than a designation or holds strange characters.")
    if tidy.startswith(("M", "m")):
        return _parse_metric(text, tidy)
    return _parse_unified(text, tidy.upper())


def refuse(text: str, why: str, *, example: str = "") -> ThreadNotUnderstood:
    """Make the refusal of a designation: what was not understood, and what a right one looks like."""
    return ThreadNotUnderstood(
        f"Thread {text!r} was not understood.",
        why=why,
        next_step=f"Write it as the drawing does, for example {example or EXAMPLES}.",
    )


def _parse_unified(text: str, tidy: str) -> Thread:
    match = _UNIFIED.match(tidy)
    if match is None:
        raise refuse(text, "It is neither an inch designation (size-threads UN…) nor a metric one (M…).")
    series = match["series"] or ""
    tpi = _mixed_number(match["tpi"])
    if not 3 <= tpi <= 80:
        raise refuse(text, f"{tpi} threads per inch lie outside the 3 to 80 of ASME B1.1.")
    diameter = _unified_diameter(text, match["size"], tpi, series)
    _check_series(text, diameter, tpi, series)
    thread_class = match["cls"] or ""
    if thread_class not in ("1A", "2A", "3A", "1B", "2B", "3B"):
        raise refuse(text, f"The class reads {thread_class or 'empty'}; it is 1A, 2A, 3A, 1B, 2B or 3B.")
    if match["form"] == "UNR" and thread_class.endswith("B"):
        raise refuse(text, "UNR is a form of external threads only; an internal thread is UN.")
    if match["form"] == "UNJ" and thread_class.startswith("1"):
        raise refuse(text, "ASME B1.15 has no class 1 for UNJ threads.", example=".3125-24 UNJF-3A")
    engagement, is_left_hand, group = _read_suffix(text, match["rest"])
    if group != "N":
        raise refuse(text, f"The group of length {group} is metric; an inch thread names the length: LE .75.")
    return Thread(
        text=text.strip(),
        form=Form(match["form"]),
        diameter=diameter,
        pitch=EXACT.divide(1, tpi),
        threads_per_inch=tpi,
        series=series,
        pitch_class=thread_class,
        crest_class=thread_class,
        is_internal=thread_class.endswith("B"),
        is_left_hand=is_left_hand,
        engagement=engagement,
    )


def _mixed_number(figure: str) -> Decimal:
    total = Decimal(0)
    for part in re.split(r"[ -]", figure.strip()):
        top, _, bottom = part.partition("/")
        if bottom and Decimal(bottom) == 0:
            raise refuse(figure, "A fraction over nothing is no size.")
        total = EXACT.add(total, EXACT.divide(Decimal(top), Decimal(bottom)) if bottom else Decimal(top))
    return total


def _unified_diameter(text: str, size: str, tpi: Decimal, series: str) -> Decimal:
    numbered = re.fullmatch(r"(?:#|NO\.?\s?)(\d+)", size)
    if numbered:
        return _numbered_size(text, int(numbered[1]))
    diameter = _mixed_number(size)
    if re.fullmatch(r"\d+", size) and (diameter, tpi) not in UNIFIED_SERIES.get(series, ()):
        # "10-32 UNF": bare whole numbers are screw numbers where only that thread exists.
        by_number = _number_in_inches(int(size))
        if by_number is not None and (by_number, tpi) in UNIFIED_SERIES.get(series, ()):
            return by_number
    if not Decimal("0.06") <= diameter <= 6:
        raise refuse(text, f"A diameter of {diameter} in lies outside the .060 to 6 in of ASME B1.1.")
    return diameter


def _number_in_inches(number: int) -> Decimal | None:
    if number in (0, 1, 2, 3, 4, 5, 6, 8, 10, 12):
        return Decimal("0.060") + Decimal("0.013") * number
    return None


def _numbered_size(text: str, number: int) -> Decimal:
    diameter = _number_in_inches(number)
    if diameter is None:
        raise refuse(text, f"There is no screw number {number}; they are 0 to 6, 8, 10 and 12.")
    return diameter


def _check_series(text: str, diameter: Decimal, tpi: Decimal, series: str) -> None:
    if series in ("C", "F", "EF") and (diameter, tpi) not in UNIFIED_SERIES[series]:
        known = sorted(t for d, t in UNIFIED_SERIES[series] if d == diameter)
        has = f"has {known[0]} threads per inch" if known else "does not exist"
        raise refuse(text, f"In the UN{series} series of ASME B1.1 the size {diameter} in {has}, not {tpi}.")
    if series == "" and tpi not in (4, 6, 8, 12, 16, 20, 28, 32):
        raise refuse(text, f"{tpi} threads per inch is no constant-pitch series: write UNC, UNF, UNEF or UNS.")
    if diameter * tpi < 3:
        raise refuse(text, f"{tpi} threads per inch are too coarse for a diameter of {diameter} in.")


def _parse_metric(text: str, tidy: str) -> Thread:
    match = _METRIC.match("M" + tidy[1:])
    if match is None:
        raise refuse(text, "It is not a metric designation: M or MJ, diameter, pitch, tolerance class.")
    diameter = Decimal(match["d"])
    pitch = _metric_pitch(text, match["p"], diameter)
    pitch_class, crest_class = _metric_classes(text, match["cls"] or "")
    engagement, is_left_hand, group = _read_suffix(text, match["rest"].upper())
    return Thread(
        text=text.strip(),
        form=Form(match["form"]),
        diameter=diameter,
        pitch=pitch,
        threads_per_inch=None,
        series="",
        pitch_class=pitch_class,
        crest_class=crest_class,
        is_internal=pitch_class[1].isupper(),
        is_left_hand=is_left_hand,
        engagement=engagement,
        engagement_group=group,
    )


def _metric_pitch(text: str, written: str | None, diameter: Decimal) -> Decimal:
    if written is not None:
        return Decimal(written)
    coarse = COARSE_PITCH_MM.get(diameter)
    if coarse is None:
        raise refuse(text, f"M{diameter} has no coarse pitch in ISO 261: write the pitch.", example="M8x1-6g")
    return coarse


def _metric_classes(text: str, written: str) -> tuple[str, str]:
    if not written:
        raise refuse(text, "The tolerance class is missing, so it cannot be told whether it is a bolt or a nut.")
    pitch_class, crest_class = written[:2], written[-2:]
    if pitch_class[1].isupper() != crest_class[1].isupper():
        raise refuse(text, f"{written} mixes a bolt's class (small letter) with a nut's (capital).")
    for part in (pitch_class, crest_class):
        if part[1] not in "efghGH":
            raise refuse(text, f"Position {part[1]} is not kept here; e, f, g, h (bolt) and G, H (nut) are.")
    if pitch_class[1] != crest_class[1] and pitch_class[1].isupper():
        raise refuse(text, f"{written} gives pitch and minor diameter different positions; ISO 965-1 does not.")
    return pitch_class, crest_class


def _read_suffix(text: str, rest: str) -> tuple[Decimal | None, bool, str]:
    """Read what follows the class: LH, the group of length (S, N, L), or the length itself."""
    engagement: Decimal | None = None
    is_left_hand, group = False, "N"
    for part in filter(None, re.split(r"\s*-\s*|\s+(?=LH)|\s+(?=\(?LE)", rest.strip())):
        length = _LENGTH.fullmatch(part.strip())
        if part.strip() == "LH":
            is_left_hand = True
        elif part.strip() in ("S", "N", "L"):
            group = part.strip()
        elif length is not None:
            engagement = Decimal(length["le"])
        elif re.fullmatch(r"\d*\.?\d+", part.strip()):
            engagement = Decimal(part.strip())
        else:
            raise refuse(text, f"{part.strip()!r} after the class is neither LH, S, N, L nor a length (LE .5).")
    if engagement is not None and engagement <= 0:
        raise refuse(text, "A length of engagement is larger than nothing.")
    return engagement, is_left_hand, group


def thread_limits(text: str) -> ThreadLimits:
    """Give every limit of the thread a designation names, in its own unit, with the derivation.

    Raises:
        ThreadNotUnderstood: the designation could not be read.
        OutsideTheTable: the standard gives no tolerance for this size, pitch or class.
    """
    thread = parse_designation(text)
    return unified_limits(thread) if thread.is_inch else metric_limits(thread)
