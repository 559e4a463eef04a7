"""What a signature is bound to: the act as it was shown, and the one place in the book where it stands.

Owns the fingerprint that is signed and the check whether a signature belongs to a page.
Must not know who may sign, nor what a PIN is.
"""

import hashlib

import rfc8785

from kiosk.pages._base import Act, Signature
from kiosk.pages._page import Page, fingerprint, read_page
from kiosk.pages.desk import Seal, SecondSignature


def fingerprint_to_sign(act: Act, previous: str) -> str:
    """Return what is signed under an act: SHA-256 of its canonical form without the signature, and of its place.

    `previous` is the fingerprint of the page before, so that a signature moved to another page no longer fits,
    not even to one that holds the same act.
    """
    shown = act.model_dump(mode="json", exclude_none=True, exclude={"signature"})
    return hashlib.sha256(rfc8785.dumps({"act": shown, "previous": previous})).hexdigest()


def is_bound(signature: Signature, page_bytes: bytes) -> bool:
    """True when `signature` was set under the page with these bytes: on the page itself, or as a second one of it.

    A seal is bound to the ledger it seals. A second signature belongs to the page it signs, not to its own.

    Raises:
        PageNotUnderstood: the bytes are no page.
    """
    if signature.of == fingerprint(page_bytes):
        return True
    page = read_page(page_bytes)
    if isinstance(page.act, SecondSignature) or getattr(page.act, "signature", None) != signature:
        return False
    return signature.of == _signed_on(page)


def _signed_on(page: Page) -> str:
    return page.act.ledger if isinstance(page.act, Seal) else fingerprint_to_sign(page.act, page.previous)
