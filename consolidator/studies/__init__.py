"""Gauge studies collected at kiosks: put together from their pages, and set out as tables and a printed sheet.

Owns the way from study pages to a sheet. Must not reckon: `consolidator.study` does; nor approve: people do.
"""

from consolidator.studies.collected import CollectedStudy, Taken, collect, held_studies
from consolidator.studies.sheet import sheet_html
from consolidator.studies.tables import SHEET_WORDS, Outcome, outcome_of, outcome_tables, reading_table

__all__ = [
    "SHEET_WORDS",
    "CollectedStudy",
    "Outcome",
    "Taken",
    "collect",
    "held_studies",
    "outcome_of",
    "outcome_tables",
    "reading_table",
    "sheet_html",
]
