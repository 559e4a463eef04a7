"""Page reloaded, program killed, a fault in it, a full disk, a store gone: nothing kept is lost, nothing pretended."""

import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.pages import Page
from kiosk.pages.readings import Reading
from tests.browser.kiosks import Served, served
from tests.browser.person import Person
from tests.browser.test_measuring import at_first_piece

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]
BACK_WITHIN_S = 10.0


def values(pages: list[Page]) -> list[str | None]:
    """Return the values kept, in order of pages."""
    return [page.act.value for page in pages if isinstance(page.act, Reading)]


def test_a_reload_in_the_middle_of_a_sample_brings_the_same_screen_back(kiosk: Served, somebody: Somebody) -> None:
    """One of five is kept and a figure is half keyed: both are there again."""
    person = at_first_piece(somebody(kiosk))
    person.touch("2", "UNDER", "Keep")
    person.sees("1 of 5 done")
    person.settle()
    person.touch("1", "UNDER")
    person.sees("1 division UNDER")

    person.page.reload()
    person.ready()

    person.sees("1 division UNDER")
    person.touch("Keep")
    person.sees("2 of 5 done")
    assert values(kiosk.pages()) == ["0.31215", "0.31220"]


def test_a_kill_between_key_and_kept_loses_nothing_that_was_said_to_be_kept(kiosk: Served, somebody: Somebody) -> None:
    """Killed right at the Keep, three times from the second piece on; what screen or disk said is there once, in order.

    What is touched and scanned during the outage is nowhere afterwards, and the same screen comes back by itself.
    """
    person = at_first_piece(somebody(kiosk))
    person.touch("0", "Keep")
    person.sees("1 of 5 done")
    person.settle()
    figures = {"0.31215": ("2", "UNDER"), "0.31230": ("1", "OVER"), "0.31210": ("3", "UNDER")}
    for value, keys in figures.items():
        before = kiosk.pages()
        person.touch(*keys)
        keep = person.box("Keep")
        person.page.mouse.click(keep.left + keep.width / 2, keep.top + keep.height / 2)
        kiosk.kill()
        on_disk = values(kiosk.pages())
        if f"{len(values(before)) + 1} of 5 done" in person.words():
            assert value in on_disk
        person.away()
        for digit in "789":
            person.page.mouse.click(*person.middle_of_pad(digit))
        person.scan("B-102")
        kiosk.start()
        began = time.monotonic()
        person.ready()
        person.sees(f"{len(on_disk)} of 5 done \N{EN DASH} piece {len(on_disk) + 1} next")
        assert time.monotonic() - began < BACK_WITHIN_S
        assert values(kiosk.pages()) == on_disk
        assert on_disk in (values(before), [*values(before), value])
        assert not [page for page in kiosk.pages()[len(before) :] if page.act.kind == "badge in"]
        if value not in on_disk:
            person.touch(*keys, "Keep")
            person.sees(f"{len(on_disk) + 1} of 5 done")
        person.settle()

    assert values(kiosk.pages()) == ["0.31225", *figures]


def test_a_fault_of_the_program_never_covers_the_screen(tmp_path: Path, somebody: Somebody) -> None:
    """The key that fails is told, the next one works, and what was kept before is there."""
    with served(tmp_path, command=[sys.executable, "-m", "tests.browser.faulty_kiosk", "run"]) as kiosk:
        person = at_first_piece(somebody(kiosk))
        person.touch("2", "UNDER", "Keep")
        person.sees("1 of 5 done")
        person.settle()

        person.page.mouse.click(*person.middle_of_pad("7"))
        person.sees("STOP. The program failed at that key")
        person.touch("1", "OVER", "Keep")

        person.sees("2 of 5 done")
        assert values(kiosk.pages()) == ["0.31215", "0.31230"]
        assert "a fault put in by a test" in (tmp_path / "kiosk.log").read_text()


def test_a_disk_that_takes_nothing_more_is_told_and_the_figure_stays(kiosk: Served, somebody: Somebody) -> None:
    """The system refuses every longer file (RLIMIT_FSIZE): not kept, why, what to do; with room again it is kept."""
    person = at_first_piece(somebody(kiosk))
    person.touch("2", "UNDER")
    assert kiosk.process is not None
    before = len(kiosk.pages())
    resource.prlimit(kiosk.process.pid, resource.RLIMIT_FSIZE, (64, resource.RLIM_INFINITY))

    person.touch("Keep")
    person.sees("Not kept: page")
    told = person.words()
    still_there = len(kiosk.pages())
    resource.prlimit(kiosk.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    assert "STOP" in told
    assert "of 5 done" not in told.replace("0 of 5 done", "")
    assert still_there == before
    assert "2 divisions UNDER" in told


def test_with_one_store_gone_the_work_goes_on_and_the_status_line_says_so(kiosk: Served, somebody: Somebody) -> None:
    """The removable store is pulled out: the next reading is kept on the other, and the line says which is away."""
    person = at_first_piece(somebody(kiosk))
    (kiosk.folder / "store-b").rename(kiosk.folder / "pulled out")

    person.touch("2", "UNDER", "Keep")
    person.sees("1 of 5 done")

    person.sees_in_words("Removable")
    assert "Removable good" not in person.words()
    assert values(kiosk.pages()) == ["0.31215"]
