"""Gauges on real pseudo-terminals: the test holds the gauge's end of the line."""

import os
import queue
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.devices import Away, Event, Indicated, Kind, PluggedGauge, SerialGauge, There, Unread, read_kind

QUICK_MS = 30
"""How long the invented kinds of these tests rest; the shipped ones rest half a second."""


def quick(name: str, rest_ms: int = QUICK_MS) -> Kind:
    """Return a kind of the program that rests more shortly."""
    kind = read_kind(name, Path("/nowhere"))
    return kind.model_copy(update={"frame": kind.frame.model_copy(update={"rest_ms": rest_ms})})


class Plug:
    """The gauge's end of a pseudo-terminal, and the name under which the kiosk finds the other end."""

    def __init__(self, port: Path) -> None:
        self._port = port
        self.plug_in()

    def plug_in(self) -> None:
        """Make a new line, as a new device appears under the same name."""
        self._own, kiosk_end = os.openpty()
        tty.setraw(kiosk_end)
        self._port.unlink(missing_ok=True)
        self._port.symlink_to(os.ttyname(kiosk_end))
        os.close(kiosk_end)

    def send(self, sent: bytes) -> None:
        """Send bytes to the kiosk."""
        os.write(self._own, sent)

    def received(self) -> bytes:
        """Return what the kiosk asked."""
        return os.read(self._own, 100)

    def pull(self) -> None:
        """Pull the plug: the device's name goes too."""
        self._port.unlink(missing_ok=True)
        os.close(self._own)


class Bench:
    """One gauge that is read, and what came from it."""

    def __init__(self, port: Path, kind: Kind) -> None:
        self.plug = Plug(port)
        self._came: queue.Queue[tuple[str, Event]] = queue.Queue()
        self.gauge = SerialGauge(
            PluggedGauge(gauge="G-120", port=str(port), kind="test"), kind,
            lambda number, event: self._came.put((number, event)),
        )  # fmt: skip
        self.gauge.start()

    def next(self) -> Event:
        """Return what came next, of this gauge."""
        number, event = self._came.get(timeout=8)
        assert number == "G-120"
        return event

    def settle(self) -> None:
        """Wait until the line has rested, so that what comes now is sure."""
        with pytest.raises(queue.Empty):
            self._came.get(timeout=QUICK_MS * 4 / 1000)


@pytest.fixture
def bench(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Bench]:
    """Plug a gauge in and read it."""
    one = Bench(tmp_path / "gauge", quick(getattr(request, "param", "line-on-press")))
    assert one.next() == There()
    one.settle()
    yield one
    one.gauge.stop()


def test_a_value_comes_over_a_real_line_as_sent(bench: Bench) -> None:
    """Button pressed: the figure is there, character by character."""
    bench.plug.send(b"+0.31250 in\r")

    assert bench.next() == Indicated("+0.31250", "in", False)


@pytest.mark.parametrize("bench", ["framed-on-press"], indirect=True)
def test_seven_bits_with_parity_and_marks_come_over_a_real_line(bench: Bench) -> None:
    """The line is set as the description says."""
    bench.plug.send(b"\x02-0.0005M\x03")

    assert bench.next() == Indicated("-0.0005", "mm", False)


def test_noise_is_told_once_and_the_next_value_is_right(bench: Bench) -> None:
    """Garbage on the line spoils nothing that follows."""
    bench.plug.send(b"\x80\xfe\x00zz\r\x81\x82\r")
    first = bench.next()
    bench.plug.send(b"0.3125 in\r")

    assert isinstance(first, Unread)
    assert first.why == "noise"
    assert bench.next() == Indicated("0.3125", "in", False)


def test_half_a_value_is_told_and_not_put_together_with_the_next(bench: Bench) -> None:
    """The gauge broke off: what it sends next is not glued to it."""
    bench.plug.send(b"0.31")

    assert bench.next() == Unread("0.31", "half")


def test_unplugged_in_the_middle_and_plugged_in_again(tmp_path: Path) -> None:
    """Half a value is told, the line is told away, found again by itself, and the next value is right."""
    bench = Bench(tmp_path / "gauge", quick("line-on-press", rest_ms=1_000))
    assert bench.next() == There()
    bench.plug.send(b"0.31")
    time.sleep(0.2)  # read by now, and not yet rested: it is the pulled plug that cuts it
    bench.plug.pull()
    half, away = bench.next(), bench.next()
    bench.plug.plug_in()
    again = bench.next()
    time.sleep(1.1)  # the line rests, so that what comes now is no tail
    bench.plug.send(b"0.3126 in\r")
    value = bench.next()
    bench.gauge.stop()

    assert half == Unread("0.31", "half")
    assert isinstance(away, Away)
    assert again == There()
    assert value == Indicated("0.3126", "in", False)


def test_a_gauge_that_is_not_there_is_told_once(tmp_path: Path) -> None:
    """A kiosk starts without its gauge and says so, once."""
    came: queue.Queue[Event] = queue.Queue()
    gauge = SerialGauge(
        PluggedGauge(gauge="G-1", port=str(tmp_path / "none"), kind="x"), quick("line-on-press"),
        lambda _, event: came.put(event),
    )  # fmt: skip
    gauge.start()
    first = came.get(timeout=5)

    with pytest.raises(queue.Empty):
        came.get(timeout=0.8)
    gauge.stop()
    assert isinstance(first, Away)


@pytest.mark.parametrize("bench", ["line-on-request"], indirect=True)
def test_a_gauge_that_answers_is_asked_in_its_own_words(bench: Bench) -> None:
    """Asked once, it is sent its command once, and its answer is a value like any other."""
    bench.gauge.ask()
    asked = bench.plug.received()
    bench.plug.send(b"0.3124 in\r\n")

    assert (asked, bench.next()) == (b"?\r", Indicated("0.3124", "in", False))
    assert bench.gauge.can_be_asked


def test_what_lay_in_the_line_before_it_was_opened_is_not_taken(tmp_path: Path) -> None:
    """A value sent while the kiosk was away belongs to no piece that it asks for now."""
    port = tmp_path / "gauge"
    plug = Plug(port)
    kept_open = os.open(port, os.O_RDWR | os.O_NOCTTY)
    plug.send(b"0.9999 in\r")
    came: queue.Queue[Event] = queue.Queue()
    gauge = SerialGauge(
        PluggedGauge(gauge="G-1", port=str(port), kind="x"), quick("line-on-press"), lambda _, event: came.put(event)
    )
    gauge.start()
    there = came.get(timeout=5)
    with pytest.raises(queue.Empty):
        came.get(timeout=0.4)
    gauge.stop()
    os.close(kept_open)

    assert there == There()
