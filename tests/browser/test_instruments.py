"""A gauge on a real pseudo-terminal, plugged into a kiosk in a real browser."""

import os
import time
import tty
from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.pages.readings import Reading
from kiosk.pages.words import Source
from tests.browser.kiosks import Served, free_port, make_kiosk
from tests.browser.person import Person

pytestmark = pytest.mark.browser


def test_a_value_sent_by_a_plugged_in_gauge_is_on_screen_and_on_disk(
    tmp_path: Path, somebody: Callable[..., Person]
) -> None:
    """Sent on the line, kept for the piece asked for, marked; unplugged, it stands on the status line."""
    gauge_end, kiosk_end = os.openpty()
    tty.setraw(kiosk_end)
    folder = make_kiosk(tmp_path)
    (folder / "gauges.toml").write_text(
        f'[[gauge]]\ngauge = "G-108"\nport = "{os.ttyname(kiosk_end)}"\nkind = "line-on-press"\n'
    )
    os.close(kiosk_end)
    kiosk = Served(folder, free_port())
    kiosk.start()
    try:
        person = somebody(kiosk)
        person.scan("B-101")
        person.sees("Badged in: Ana")
        person.scan("L-411")
        person.sees("What is measured?")
        person.settle()
        person.pick("BC1")
        person.sees("scan the gauge")
        person.scan("G-108")
        person.sees("Piece 1")
        time.sleep(0.6)  # the line has rested since it was opened
        os.write(gauge_end, b"+0.31240 in\r")
        person.sees("+0.31240 in from instrument G-108")
        os.close(gauge_end)
        person.sees("G-108 not plugged in")
    finally:
        kiosk.stop()

    kept = [page.act for page in kiosk.pages() if isinstance(page.act, Reading)]
    assert [(one.keyed, one.source, one.gauge) for one in kept] == [("+0.31240", Source.INSTRUMENT, "G-108")]
