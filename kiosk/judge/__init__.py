"""One reading's verdict, and its standing as far as a kiosk can know, with the reasons.

Owns rule 3.2 (how a number is judged) and the reasons a station with its lists and its own book can settle.
Verdict and standing are two things and are never merged.
Must not know the book or the screen; close of day judges every reading again.
"""

from kiosk.judge._figures import Figures, figures_of, size_in
from kiosk.judge._gauge_reasons import are_wires_wrong, due_ends_utc, fit_reasons, gauge_reasons, is_thread_gauge_wrong
from kiosk.judge._given import Around, Given, HeatNote, Judged
from kiosk.judge._judge import judge, question
from kiosk.judge._people import MAY_MEASURE, is_qualified
from kiosk.judge._reasons import EFFECT, Scene, worst_standing
from kiosk.judge._verdict import comparable_in, limits_in, shown, verdict_of, window_of

__all__ = [
    "EFFECT",
    "MAY_MEASURE",
    "Around",
    "Figures",
    "Given",
    "HeatNote",
    "Judged",
    "Scene",
    "are_wires_wrong",
    "comparable_in",
    "due_ends_utc",
    "figures_of",
    "fit_reasons",
    "gauge_reasons",
    "is_qualified",
    "is_thread_gauge_wrong",
    "judge",
    "limits_in",
    "question",
    "shown",
    "size_in",
    "verdict_of",
    "window_of",
    "worst_standing",
]
