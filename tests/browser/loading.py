"""Loads a screen again and again and compares what is drawn."""

from tests.browser.person import Person
from tests.browser.pictures import Picture, read_png

STATUS_ROWS = 100
"""Rows of the status line at the bottom of 800; the age of the lists may move on in it."""


def differing_loads(person: Person, loads: int) -> list[int]:
    """Load the page `loads` times; return those after which another picture stood there than before the first."""
    wanted = _drawn(person)
    found = []
    for load in range(1, loads + 1):
        person.page.reload()
        person.ready()
        if _drawn(person) != wanted:
            found.append(load)
    return found


def _drawn(person: Person) -> tuple[bytes, ...]:
    picture: Picture = read_png(person.still_picture())
    return picture.part(0, 0, picture.width, picture.height - STATUS_ROWS)
