"""Carry over the network: contact, packets, receipt, fresh lists.

Carrying again, in any order, after any interruption changes nothing that is held already.
Owns retries and their limits; must not know what a page means.
"""

import ipaddress
import ssl
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

import httpx2
import stamina

from kiosk.carry.contacts import STATEMENT_FIELD, Contact, ListsRequest, in_one_field
from kiosk.carry.enrolment import CERTIFICATE_FILE, Enrolment, kiosk_keys
from kiosk.carry.fresh_lists import lists_version, take_lists
from kiosk.carry.packets import CarriedBook, make_packets
from kiosk.carry.receipts import Receipt, read_receipt, runs_to_carry, take_receipt
from kiosk.carry.statements import write_statement
from kiosk.errors import CarryRefused, ConsolidatorAway, NotEnrolled, ReceiptDoesNotFit
from kiosk.lists import Lists
from kiosk.ports import Clock, Disk
from kiosk.said import say
from kiosk.settings import Settings
from kiosk.times import read_time, write_time

# Retries are told once, by ConsolidatorAway; the library's own lines would stand between a command's own.
stamina.instrumentation.set_on_retry_hooks(())


@dataclass(frozen=True)
class Carried:
    """What one round of carrying did.

    `difference_s` is consolidator time minus kiosk time in seconds; none by stick, which proves no such thing.
    `refusals` are the words of packets the consolidator would not take; all others were carried.
    `brought` is the receipt that a stick brought on this very round; `receipt` is the last one, however it came.
    """

    packets: int
    pages: int
    receipt: Receipt | None
    difference_s: float | None = None
    lists: Lists | None = None
    refusals: tuple[str, ...] = ()
    brought: Receipt | None = None


class _TryAgain(Exception):
    """The consolidator is there but cannot just now."""


class NetworkCarry:
    """One kiosk's way to its consolidator; use as a context, it keeps one connection open."""

    def __init__(
        self,
        folder: Path,
        disk: Disk,
        *,
        settings: Settings | None = None,
        transport: httpx2.BaseTransport | None = None,
    ) -> None:
        self._folder = folder
        self._disk = disk
        self._settings = settings or Settings()
        self._enrolment = Enrolment.open(folder)
        self._keys = kiosk_keys(folder)
        self._doubts: dict[str, None] = {}
        self._client = httpx2.Client(
            base_url=_address(self._enrolment),
            verify=_pinned(folder / CERTIFICATE_FILE, self._enrolment),
            timeout=self._settings.carry_timeout_s,
            transport=transport,
            headers={"Accept-Encoding": "identity"},
            trust_env=False,
        )

    def __enter__(self) -> "NetworkCarry":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()

    def carry(self, book: CarriedBook, clock: Clock, *, session: int) -> Carried:
        """Carry everything the consolidator does not hold yet, take its receipt and any fresh lists.

        Raises:
            ConsolidatorAway: it did not answer within the tries allowed; nothing is lost, the next round goes on.
            CarryRefused: it does not know this kiosk, or not for this plant.
            StatementRefused: whoever answered is not this kiosk's consolidator.
        """
        self._doubts = {}
        kiosk_time = clock.now()
        receipt = self._contact(book, write_time(kiosk_time), clock.running_ms(), session)
        difference_s = (read_time(receipt.at) - kiosk_time).total_seconds()
        packets = pages = 0
        refusals: list[str] = []
        # Where the consolidator has other pages than this book, all of the book goes, so that both sides show (X34).
        held = () if self._doubts else receipt.held
        for first, last in runs_to_carry(held, book.last_number):
            for header, raw in make_packets(book.pages(first, last), self._keys.signing, settings=self._settings):
                try:
                    receipt = self._take(self._ask("POST", "/carry/v1/packets", raw), book)
                except CarryRefused as refusal:
                    refusals.append(str(refusal))
                    continue
                packets += 1
                pages += header.count
        lists = self._fetch_lists(receipt.lists)
        return Carried(packets, pages, receipt, difference_s, lists, (*self._doubts, *refusals))

    def _contact(self, book: CarriedBook, kiosk_time: str, running_ms: int, session: int) -> Receipt:
        told = Contact(
            plant=self._enrolment.plant,
            series=self._enrolment.series,
            kiosk_time=kiosk_time,
            running_ms=running_ms,
            session=session,
            last=book.last_number,
            lists=lists_version(self._folder),
        )
        # Tried once only: a contact says what time it is now, and a second try would say it late.
        raw = write_statement(told, self._keys.signing)
        return self._take(self._ask("POST", "/carry/v1/contact", raw, attempts=1), book)

    def _take(self, raw: bytes, book: CarriedBook) -> Receipt:
        try:
            return take_receipt(raw, self._folder, self._enrolment, book, self._disk)
        except ReceiptDoesNotFit as doubt:
            self._doubts[str(doubt)] = None
            return read_receipt(raw, self._enrolment)

    def _fetch_lists(self, version: int) -> Lists | None:
        if version <= lists_version(self._folder):
            return None
        request = ListsRequest(plant=self._enrolment.plant, series=self._enrolment.series, version=version)
        field = {STATEMENT_FIELD: in_one_field(request, self._keys.signing)}
        raw = self._ask("GET", f"/carry/v1/lists/{version}", b"", fields=field)
        return take_lists(raw, self._folder, self._enrolment, self._disk)

    def _ask(
        self,
        method: str,
        path: str,
        body: bytes,
        *,
        fields: dict[str, str] | None = None,
        attempts: int | None = None,
    ) -> bytes:
        tries = stamina.retry_context(
            on=(httpx2.TransportError, _TryAgain),
            attempts=attempts or self._settings.carry_attempts,
            timeout=None,
            wait_initial=self._settings.carry_wait_s,
            wait_max=self._settings.carry_wait_s * 10,
            wait_jitter=self._settings.carry_wait_s,
        )
        try:
            for attempt in tries:
                with attempt:
                    return self._ask_once(method, path, body, fields or {})
        except (httpx2.TransportError, _TryAgain) as error:
            raise ConsolidatorAway(
                say("Not carried: the consolidator at {address} did not answer.", address=self._enrolment.address),
                why=say("{words}.", words=str(error) or type(error).__name__),
                next_step=say("Go on working; it is tried again by itself. If it lasts, carry by stick."),
            ) from error
        raise AssertionError("a try either returns or raises")

    def _ask_once(self, method: str, path: str, body: bytes, fields: dict[str, str]) -> bytes:
        limit_bytes = self._settings.carry_lists_bytes_limit
        with self._client.stream(method, path, content=body, headers=fields) as response:
            answer = bytearray()
            for piece in response.iter_raw():
                answer += piece
                if len(answer) > limit_bytes:
                    raise _TryAgain(f"its answer was larger than {limit_bytes} bytes")
        if response.status_code >= 500 or response.status_code == 429:
            raise _TryAgain(_words(response, bytes(answer)))
        if response.status_code != 200:
            raise CarryRefused(
                say("The consolidator did not take what was carried."),
                why=say("{words}", words=_words(response, bytes(answer))),
                next_step=say("The pages stay in the book. Tell the quality manager."),
            )
        return bytes(answer)


def _words(response: httpx2.Response, answer: bytes) -> str:
    """Return the consolidator's own sentence, or the bare status when something else answered."""
    if response.headers.get("content-type", "").startswith("text/plain"):
        return answer[:2_000].decode("utf-8", "replace").strip()
    return f"It answered with status {response.status_code}."


def _address(enrolment: Enrolment) -> str:
    address = enrolment.address
    if address is None:
        raise NotEnrolled(
            f"Kiosk {enrolment.series} does not carry over the network.",
            why="Its enrolment names no address.",
            next_step="Carry by stick, or enrol it with the consolidator's address.",
        )
    url = httpx2.URL(address)
    if url.scheme == "http" and not _is_loopback(url.host):
        raise NotEnrolled(
            f"Kiosk {enrolment.series} does not carry to {address}.",
            why="Without https everybody on the line could read along.",
            next_step="Enrol it with an https address.",
        )
    return address


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _pinned(certificate: Path, enrolment: Enrolment) -> ssl.SSLContext | bool:
    """Trust this one certificate and no other; names and dates prove nothing on a kiosk whose clock may be off."""
    if (enrolment.address or "").startswith("http://"):
        return False
    try:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.check_hostname = False
        context.load_verify_locations(cafile=str(certificate))
    except (OSError, ssl.SSLError) as error:
        raise NotEnrolled(
            f"Kiosk {enrolment.series} does not carry over the network.",
            why=f"{CERTIFICATE_FILE} in its folder cannot be read ({error}).",
            next_step="Carry by stick, and put the consolidator's certificate back into the kiosk's folder.",
        ) from error
    return context
