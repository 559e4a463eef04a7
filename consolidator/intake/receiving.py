"""The intake: takes in packets and contacts, counts each page once, keeps the original bytes, gives receipts.

Nothing is acknowledged before its bytes and its line in the carry log are on the disk.
Owns `intake/packets`, `intake/refused` and the two logs; must not know how anything travelled.
"""

import fcntl
import hashlib
import sqlite3
import threading
import time
from collections.abc import Callable, Container, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from consolidator.errors import IntakeBusy, IntakeDamaged, NotTakenIn, UnknownKiosk
from consolidator.for_stations import for_station
from consolidator.intake.carry_log import NETWORK, By, Line, Log, milliseconds, packet_line, refusal_line
from consolidator.intake.catalogue import Arrival, Catalogue
from consolidator.intake.checks import CheckedPacket, Misfit, chain_misfit, check_packet, compare, runs_of
from consolidator.intake.enrolment import Enrolled, find, keys_of
from consolidator.intake.held import Unfit
from consolidator.plant import Plant
from consolidator.settings import Settings
from kiosk.carry import Contact, Packet, PacketHeader, Receipt, read_packet
from kiosk.carry.keys import signing_key
from kiosk.carry.packets import packet_refused
from kiosk.carry.statements import write_statement
from kiosk.errors import NewerFormat, PacketRefused
from kiosk.ports import Disk, SyncedDisk
from kiosk.settings import Settings as CarrySettings
from kiosk.times import read_time, write_time


@dataclass(frozen=True)
class TakenIn:
    """What became of one packet; `held` pages were there before with the same content."""

    header: PacketHeader
    new: int
    held: int
    conflicts: int
    receipt: bytes
    """The receipt as signed bytes, ready to go back."""


class Intake:
    """One plant's intake. Several programs may have it open; only one writes at a time."""

    def __init__(
        self,
        plant: Plant,
        *,
        disk: Disk | None = None,
        now: Callable[[], datetime] | None = None,
        settings: Settings | None = None,
        carry_settings: CarrySettings | None = None,
    ) -> None:
        self.plant = plant
        self.settings = settings or Settings()
        self.limits = carry_settings or CarrySettings()
        self.keys = keys_of(plant)
        self.disk = disk or SyncedDisk()
        self._now = now or (lambda: datetime.now(UTC))
        self._thread_lock = threading.RLock()
        self._depth = 0
        self._log = Log(plant.intake / "carry-log.jsonl", self.disk)
        self._contacts = Log(plant.intake / "contacts.jsonl", self.disk)
        self.catalogue = Catalogue(plant.intake / "screened")

    def close(self) -> None:
        """Let go of the catalogue."""
        self.catalogue.close()

    def __enter__(self) -> "Intake":
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def take_in(self, raw: bytes, by: By = NETWORK) -> TakenIn:
        """Take in one packet.

        Loading it any number of times, in any order, changes nothing that is held.

        Raises:
            PacketRefused: it is no packet of this plant as a kiosk makes them; its bytes are kept as refused.
            NewerFormat: it was made by a newer version of the program; kept as refused.
            UnknownKiosk: its series is not enrolled; kept as refused, and told at close of day (X77).
            NotTakenIn: the disk did not take it; nothing was acknowledged.
        """
        with self.writing():
            now = self._now().astimezone(UTC)
            try:
                checked, enrolled = self._check(raw)
            except (PacketRefused, NewerFormat, UnknownKiosk) as error:
                self._refuse(raw, error, now, by)
                raise
            with self._disk_failures():
                line = self._keep(raw, checked, enrolled, now, by)
            receipt = self.receipt(checked.packet.header.series, now, enrolled)
            return TakenIn(checked.packet.header, line["new"], line["held"], len(line["conflicts"]), receipt)

    def take_contact(self, contact: Contact, received_at: datetime) -> bytes:
        """Note the difference between both clocks and return a receipt.

        A contact that is not later than the last one of its series is a copy of an old one and is not noted.
        """
        with self.writing():
            now = received_at.astimezone(UTC)
            enrolled = self._enrolled(contact.series)
            rows = self.catalogue.ask(
                "SELECT session,running_ms FROM contacts WHERE series=? ORDER BY session DESC, running_ms DESC LIMIT 1",
                contact.series,
            )
            is_later = not rows or (contact.session, contact.running_ms) > tuple(rows[0])
            if is_later and not enrolled.is_withdrawn(now):
                line = {
                    "series": contact.series,
                    "session": contact.session,
                    "consolidator_ms": milliseconds(now),
                    "kiosk_ms": milliseconds(read_time(contact.kiosk_time)),
                    "running_ms": contact.running_ms,
                    "last": contact.last,
                    "lists": contact.lists,
                }
                with self._disk_failures(), self.catalogue:
                    self.catalogue.take_contact(line)
                    self.catalogue.set_progress("contacts", self._contacts.append([line]))
            return self.receipt(contact.series, now, enrolled)

    def note(self, line: Line) -> None:
        """Put one line about a carry as a whole into the carry log, such as what a stick brought."""
        with self.writing(), self._disk_failures(), self.catalogue:
            told = {"at": write_time(self._now().astimezone(UTC)), **line}
            self.catalogue.set_progress("carry-log", self._log.append([told]))

    def receipt(self, series: str, now: datetime, enrolled: Enrolled) -> bytes:
        """Return a signed receipt for everything held of a series."""
        runs = self.catalogue.runs(series)
        through = runs[0].last if runs and runs[0].first == 1 else 0
        orders, messages = for_station(self.plant, enrolled.station, now)
        receipt = Receipt(
            plant=self.plant.number,
            series=series,
            at=write_time(now.astimezone(self.plant.zone)),
            held=tuple((run.first, run.last) for run in runs),
            through=through,
            fingerprint=self._prints(series, through)[0] if through else None,
            lists=newest_lists_version(self.plant),
            is_withdrawn=enrolled.is_withdrawn(now),
            orders=orders,
            messages=messages,
        )
        return write_statement(receipt, self.keys.signing)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the intake's lock against every thread and program, with the catalogue brought up to date.

        Raises:
            IntakeBusy: another program held it for too long.
        """
        with self._thread_lock:
            if self._depth:
                yield
                return
            with self._disk_failures():
                lock = (self.plant.intake / "lock").open("ab")
            try:
                self._wait_for(lock.fileno())
                self._depth += 1
                try:
                    self.catch_up()
                    yield
                finally:
                    self._depth -= 1
            finally:
                lock.close()

    def catch_up(self) -> None:
        """Index lines of the logs that the catalogue does not know yet."""
        for name, log, take in (
            ("carry-log", self._log, self._take_line),
            ("contacts", self._contacts, self.catalogue.take_contact),
        ):
            lines = log.read_from(self.catalogue.progress(name))
            first = next(lines, None)
            if first is None:
                continue
            with self.catalogue:
                take(first[0])
                end = first[1]
                for line, end in lines:  # noqa: B007 - the last end is what counts
                    take(line)
                self.catalogue.set_progress(name, end)

    def packet_at(self, arrival: Arrival) -> Packet:
        """Return a packet that was taken in.

        Raises:
            IntakeDamaged: its file is away or was altered since.
        """
        path = self.plant.intake / arrival.file
        try:
            return read_packet(path.read_bytes(), settings=self.limits)
        except (OSError, PacketRefused) as error:
            raise IntakeDamaged(
                f"The packet {path.name} of {arrival.series} could not be read again.",
                why=str(error),
                next_step="Keep it as it is, and bring the file back from the last copy of the plant's folder.",
            ) from error

    def _wait_for(self, lock: int) -> None:
        until = time.monotonic() + self.settings.intake_waiting_s
        while True:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                return
            except BlockingIOError:
                if time.monotonic() > until:
                    raise IntakeBusy(
                        "The intake did not go on.",
                        why=f"Another program has been writing to it for {self.settings.intake_waiting_s:.0f} s.",
                        next_step="See what the other program waits for, then try again.",
                    ) from None
                time.sleep(0.01)

    @contextmanager
    def _disk_failures(self) -> Iterator[None]:
        try:
            yield
        except (OSError, sqlite3.OperationalError) as error:
            raise NotTakenIn(
                f"Not taken in at plant {self.plant.number}.",
                why=f"The consolidator's disk: {getattr(error, 'strerror', None) or error}.",
                next_step="Make room on it or mend it. Nothing was acknowledged; the kiosk carries again by itself.",
            ) from error

    def _take_line(self, line: Line) -> None:
        if line.get("what") == "packet":
            self.catalogue.take_packet(line)

    def _enrolled(self, series: str) -> Enrolled:
        enrolled = find(self.plant, series)
        if enrolled is None:
            raise UnknownKiosk(
                f"Series {series[:40]} was not taken in: it is not enrolled at plant {self.plant.number}.",
                why="Nothing proves which kiosk it is.",
                next_step="Keep the kiosk's folder and tell the quality manager.",
            )
        return enrolled

    def _check(self, raw: bytes) -> tuple[CheckedPacket, Enrolled]:
        packet = read_packet(raw, settings=self.limits)
        header = packet.header
        if header.plant != self.plant.number:
            raise packet_refused(f"it belongs to plant {header.plant}, and this is plant {self.plant.number}", header)
        enrolled = self._enrolled(header.series)
        if not packet.is_signed_by(signing_key(enrolled.signs)):
            raise packet_refused(f"its signature is not that of {header.series}", header)
        return check_packet(packet, depth_limit=self.limits.carry_depth_limit), enrolled

    def _keep(self, raw: bytes, checked: CheckedPacket, enrolled: Enrolled, now: datetime, by: By) -> Line:
        """Put the packet on the disk and into the carry log; the log's line is what makes it taken in."""
        header = checked.packet.header
        held = self._held_before(header)
        new, conflicts = compare(checked, held)
        line = packet_line(header, now, by, new=len(new), conflicts=conflicts)
        if new or conflicts:
            file = f"packets/{header.series}/{header.first:010d}-{header.last:010d}-{_short_print(raw)}.packet"
            path = self.plant.intake / file
            path.parent.mkdir(parents=True, exist_ok=True)
            self.disk.replace_synced(path, raw)
            line |= {"outcome": "taken", "file": file, "head": checked.actual[-1], "before": checked.previous[0] or ""}
            line |= {"new_runs": runs_of(new), "misfits": [asdict(each) for each in self._misfits(checked, conflicts)]}
            if enrolled.is_withdrawn(now):
                line["is_withdrawn"] = True
        with self.catalogue:
            self.catalogue.take_packet(line)
            self.catalogue.set_progress("carry-log", self._log.append([line]))
        return line

    def _misfits(self, checked: CheckedPacket, conflicts: Container[int]) -> list[Misfit]:
        """Return the packet's own misfits and those with its neighbours held; conflicts are told by themselves."""
        header = checked.packet.header
        found = list(checked.misfits)
        before = self._prints(header.series, header.first - 1)
        if before and checked.previous[0] not in (None, *before):
            found.append(chain_misfit(header.first - 1, before, checked.previous[0] or ""))
        ours = (checked.actual[-1], checked.packet.fingerprints[-1])
        named = self._named_by(header.series, header.last + 1)
        if named and named not in ours:
            found.append(chain_misfit(header.last, ours, named))
        return [each for each in found if each.unfit is not Unfit.CHAIN or each.number not in conflicts]

    def _held_before(self, header: PacketHeader) -> dict[int, set[str]]:
        """Return the fingerprints already held of the numbers a packet has."""
        found: dict[int, set[str]] = {}
        for arrival in self._over(header.series, header.first, header.last):
            pages = self.packet_at(arrival).pages
            for number in range(max(arrival.first, header.first), min(arrival.last, header.last) + 1):
                print_ = hashlib.sha256(pages[number - arrival.first]).hexdigest()
                found.setdefault(number, set()).add(print_)
        return found

    def _over(self, series: str, first: int, last: int) -> list[Arrival]:
        return self.catalogue.packets_over(series, first, last, self.limits.carry_packet_pages_limit)

    def _prints(self, series: str, number: int) -> tuple[str, ...]:
        """Return every fingerprint known for a page held, that of its bytes first; empty when it is not held."""
        prints: list[str] = []
        for arrival in self._over(series, number, number):
            if arrival.last == number:
                prints.append(arrival.head)
            if arrival.last != number or len(prints) > 1:
                packet = self.packet_at(arrival)
                place = number - arrival.first
                prints += [hashlib.sha256(packet.pages[place]).hexdigest(), packet.fingerprints[place]]
        return tuple(dict.fromkeys(prints))

    def _named_by(self, series: str, number: int) -> str:
        """Return what page `number` says of the page before it; empty when it is not held."""
        for arrival in self._over(series, number, number):
            if arrival.first == number:
                return arrival.before or ""
            place = number - arrival.first
            packet = self.packet_at(arrival)
            return check_packet(packet, depth_limit=self.limits.carry_depth_limit).previous[place] or ""
        return ""

    def _refuse(self, raw: bytes, error: Exception, now: datetime, by: By) -> None:
        """Keep what was refused, with the reason beside it, as long as there is room for such things."""
        outcome = "unknown kiosk" if isinstance(error, UnknownKiosk) else "refused"
        line = refusal_line(raw, str(error), now, by, outcome=outcome)
        with self._disk_failures():
            folder = self.plant.intake / "refused"
            folder.mkdir(parents=True, exist_ok=True)
            if self._has_room(folder, len(raw)):
                path = folder / f"{_short_print(raw)}.packet"
                self.disk.replace_synced(path, raw)
                self.disk.replace_synced(path.with_suffix(".reason.txt"), str(error).encode() + b"\n")
                line["file"] = f"refused/{path.name}"
            with self.catalogue:
                self._take_line(line)
                self.catalogue.set_progress("carry-log", self._log.append([line]))

    def _has_room(self, folder: Path, wanted_bytes: int) -> bool:
        if wanted_bytes > self.limits.carry_packet_bytes_limit:
            return False
        used = sum(path.stat().st_size for path in folder.iterdir())
        return used + wanted_bytes <= self.settings.intake_refused_room_bytes


def _short_print(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()[:16]


def newest_lists_version(plant: Plant) -> int:
    """Return the newest version of the lists that was taken over; 0 when there is none yet."""
    versions = (path.parent.name for path in plant.lists.glob("*/lists.json"))
    return max((int(version) for version in versions if version.isdecimal()), default=0)
