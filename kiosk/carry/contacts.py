"""What a kiosk says of itself at each contact over the network, so that its clock can be known."""

import base64
from typing import Annotated, Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from pydantic import Field

from kiosk.carry.statements import Statement, write_statement
from kiosk.pages._base import Count, Name, Series
from kiosk.times import LocalTime

STATEMENT_FIELD = "Kiosk-Statement"
"""Name of the HTTP field that carries a signed statement where a request has no body."""


class Contact(Statement):
    """The kiosk's time and its milliseconds since switch-on, both read when the contact is made."""

    what: Literal["contact"] = "contact"
    plant: Name
    series: Series
    kiosk_time: LocalTime
    running_ms: Annotated[int, Field(ge=0, le=10**15)]
    session: Annotated[int, Field(ge=0, le=10**9)]
    """Power-on session; 0 before the first page."""
    last: Annotated[int, Field(ge=0, le=9_999_999_999)]
    """Number of the last page in the book."""
    lists: Count = 0


class ListsRequest(Statement):
    """A kiosk asks for one version of the lists."""

    what: Literal["lists request"] = "lists request"
    plant: Name
    series: Series
    version: Count


def in_one_field(request: ListsRequest, key: Ed25519PrivateKey) -> str:
    """Return the signed request as the value of one HTTP field (RFC 4648 base64)."""
    return base64.b64encode(write_statement(request, key)).decode("ascii")
