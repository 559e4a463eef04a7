"""Who may sign what, when two signatures are needed, and when a correction takes effect; values in, values out.

Close of day judges by these functions and the desk refuses by them, so that the two never differ.
Must not know where pages lie or how a day is judged.
"""

from consolidator.authority.corrections import (
    Correcting,
    CorrectionState,
    ReMeasured,
    Weight,
    correction_state,
    weight_of,
)
from consolidator.authority.deeds import AUTHORITIES, Authority, Deed
from consolidator.authority.seconded import deed_seconded, readings_about
from consolidator.authority.signers import Proposal, SecondSigner, levels_at, person_of, role_for, why_not_second

__all__ = [
    "AUTHORITIES",
    "Authority",
    "Correcting",
    "CorrectionState",
    "Deed",
    "Proposal",
    "ReMeasured",
    "SecondSigner",
    "Weight",
    "correction_state",
    "deed_seconded",
    "levels_at",
    "person_of",
    "readings_about",
    "role_for",
    "weight_of",
    "why_not_second",
]
