"""What comes in from the kiosks: packets checked, each page counted once, original bytes kept for ever.

Owns the plant's `intake/` folder.
Must not know how a reading is judged.
"""

from consolidator.intake.archive import Archive
from consolidator.intake.desk_book import take_in_book
from consolidator.intake.enrolment import Enrolled, Place, all_enrolled, enrol, enrol_from_stick, withdraw
from consolidator.intake.held import Altered, Conflict, Held, HeldPage, Kiosk, Run, Unfit, Unknown
from consolidator.intake.receiving import Intake, TakenIn
from consolidator.intake.screened import rebuild, screen
from consolidator.intake.serving import make_app, make_server
from consolidator.intake.sticks import Loaded, issue_stick, load_stick

__all__ = [
    "Altered",
    "Archive",
    "Conflict",
    "Enrolled",
    "Held",
    "HeldPage",
    "Intake",
    "Kiosk",
    "Loaded",
    "Place",
    "Run",
    "TakenIn",
    "Unfit",
    "Unknown",
    "all_enrolled",
    "enrol",
    "enrol_from_stick",
    "issue_stick",
    "load_stick",
    "make_app",
    "make_server",
    "rebuild",
    "screen",
    "take_in_book",
    "withdraw",
]
