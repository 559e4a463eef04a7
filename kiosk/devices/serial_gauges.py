"""The gauges plugged into this kiosk by serial line: each is read for ever, and found again when it was pulled out.

Owns opening, reading and asking a line with pyserial, one thread a gauge. What came is handed on; nothing is judged.
"""

import contextlib
import termios
import threading
import time
from collections.abc import Callable
from typing import Final, NamedTuple

import serial

from kiosk.devices.indications import Indicated, Indications, Unread
from kiosk.devices.kinds import Kind, LineSetting, PluggedGauge

POLL_S: Final = 0.1
"""How long one look at the line waits for bytes; a value is seen at once, the stop of the program within this."""
AGAIN_S: Final = 0.5
"""Wait before a line that is away is looked for again."""
NOISE_APART_S: Final = 1.0
"""Noise is told once in this time: a line set to the wrong speed makes hundreds of pieces of it a second."""
_PARITY: Final = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}


class Away(NamedTuple):
    """The gauge's line cannot be read: not plugged in, or pulled out."""

    why: str


class There(NamedTuple):
    """The gauge's line is open; what was sent while it was away is gone."""


Event = Indicated | Unread | Away | There
HandOn = Callable[[str, Event], None]
"""Told the gauge's number and what came, from the gauge's own thread."""


class SerialGauge:
    """One gauge on its line, read in a thread of its own between `start` and `stop`."""

    def __init__(self, plugged: PluggedGauge, kind: Kind, hand_on: HandOn) -> None:
        self.number, self._port, self._kind = plugged.gauge, plugged.port, kind
        self._hand_on = hand_on
        self._is_stopping = threading.Event()
        self._asked = threading.Event()
        self._thread = threading.Thread(target=self._read_for_ever, name=f"gauge {self.number}", daemon=True)
        self._is_away_told = False
        self._noise_at_s = -NOISE_APART_S

    @property
    def can_be_asked(self) -> bool:
        """True for a kind that answers a request."""
        return self._kind.request is not None

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def stop(self) -> None:
        """Read no more, and close the line."""
        self._is_stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    def ask(self) -> None:
        """Ask the gauge for a value, where its kind is asked; the answer comes as any other value."""
        self._asked.set()

    def _read_for_ever(self) -> None:
        while not self._is_stopping.is_set():
            try:
                with _opened(self._port, self._kind.line) as line:
                    self._is_away_told = False
                    self._asked.clear()
                    self._hand_on(self.number, There())
                    self._read(line)
            except (OSError, termios.error) as error:
                self._tell_away(error)
                self._is_stopping.wait(AGAIN_S)

    def _tell_away(self, error: Exception) -> None:
        if not self._is_away_told:
            self._is_away_told = True
            self._hand_on(self.number, Away(str(error)))

    def _read(self, line: serial.Serial) -> None:
        indications = Indications(self._kind, opened_at_s=time.monotonic())
        try:
            while not self._is_stopping.is_set():
                if self._asked.is_set() and self._kind.request is not None:
                    self._asked.clear()
                    line.write(self._kind.request.command.encode("latin-1"))
                chunk = line.read(max(1, line.in_waiting))
                for found in indications.take(chunk, time.monotonic()):
                    self._tell(found)
        finally:
            for half in indications.cut():
                self._hand_on(self.number, half)

    def _tell(self, found: Indicated | Unread) -> None:
        now_s = time.monotonic()
        if isinstance(found, Unread) and found.why == "noise":
            if now_s - self._noise_at_s < NOISE_APART_S:
                return
            self._noise_at_s = now_s
        self._hand_on(self.number, found)


def _opened(port: str, setting: LineSetting) -> serial.Serial:
    line = serial.Serial(
        port, baudrate=setting.baud, bytesize=setting.data_bits, parity=_PARITY[setting.parity],
        stopbits=setting.stop_bits, timeout=POLL_S, write_timeout=1.0, exclusive=True,
    )  # fmt: skip
    with contextlib.ExitStack() as closing:
        closing.callback(line.close)
        _mark_parity(line, setting)
        line.reset_input_buffer()
        closing.pop_all()
    return line


def _mark_parity(line: serial.Serial, setting: LineSetting) -> None:
    """Have a character that came with a wrong parity marked, so that it fits no pattern; else it comes as if good."""
    if setting.parity == "none":
        return
    attributes = termios.tcgetattr(line.fileno())
    attributes[0] |= termios.INPCK | termios.PARMRK
    termios.tcsetattr(line.fileno(), termios.TCSANOW, attributes)
