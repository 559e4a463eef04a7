"""Every kind of page a numbered book can hold, its canonical bytes and its fingerprint.

A page is an envelope (which book, which number, when, who) around one act.
Its canonical bytes follow RFC 8785, its fingerprint is SHA-256 of exactly those bytes,
and `previous` holds the fingerprint of the page before, so a book is a chain.
Must not know where a page is kept.
"""

from kiosk.pages._base import Act, Frozen, Signature
from kiosk.pages._page import (
    FIRST_PREVIOUS,
    FORMAT,
    AnyAct,
    Page,
    canonical_bytes,
    fingerprint,
    read_page,
)
from kiosk.pages.signing import fingerprint_to_sign, is_bound

__all__ = [
    "FIRST_PREVIOUS",
    "FORMAT",
    "Act",
    "AnyAct",
    "Frozen",
    "Page",
    "Signature",
    "canonical_bytes",
    "fingerprint",
    "fingerprint_to_sign",
    "is_bound",
    "read_page",
]
