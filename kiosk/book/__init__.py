"""The numbered, chained book on disk: pages kept twice before anybody is told they are kept.

A book is a run of pages in two store folders, each page's canonical bytes beside their fingerprint.
Must not know what a page means.
"""

from kiosk.book._book import Book
from kiosk.book._examine import Examined, StoreFault, examine, find_identity, readable_pages
from kiosk.book._notices import Notice, Room
from kiosk.book._records import Identity, Receipt
from kiosk.ports import SyncedDisk

__all__ = [
    "Book",
    "Examined",
    "Identity",
    "Notice",
    "Receipt",
    "Room",
    "StoreFault",
    "SyncedDisk",
    "examine",
    "find_identity",
    "readable_pages",
]
