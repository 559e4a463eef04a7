"""The language of the badge in a real browser: changed on the fly, figures as on the drawing in each."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.kiosks import lists_today, served
from tests.browser.person import Person

pytestmark = pytest.mark.browser
SPOKEN = {"P-101": "de", "P-102": "ar"}


def test_each_badge_brings_its_language_and_nobody_is_asked_for_a_type(
    tmp_path: Path, somebody: Callable[..., Person]
) -> None:
    """French at the door, German for Ana, Arabic for Bo; every letter comes from this machine's own files."""
    people = tuple(one.model_copy(update={"language": SPOKEN.get(one.number, "en")}) for one in lists_today().people)
    lists = lists_today(people=people)

    with served(tmp_path, lists=lists, settings={"KIOSK_LANGUAGE": "fr"}) as kiosk:
        person = somebody(kiosk)
        person.sees("Poste S12. Scannez votre badge.")
        person.scan("B-101")
        person.sees("Laufkarte scannen oder Los wählen.")
        person.scan("L-411")
        person.sees("Was wird gemessen?")
        person.settle()
        person.pick("BC1")
        person.scan("G-220")
        person.sees("STOPP.")
        person.settle()
        person.pick("G-220 jetzt prüfen")
        person.touch("0", "Sichern")
        person.sees("Geprüft. G-220 darf verwendet werden.")
        person.settle()
        person.touch("2", "UNTER")
        person.sees("2 Teilstriche UNTER")
        person.touch("Sichern")
        person.sees("Gesichert: .31215. In der Toleranz.")
        person.settle()
        person.scan("B-102")
        person.sees("ماذا يُقاس؟")
        kiosk.kill()
        person.page.wait_for_selector("#kiosk-away", timeout=15_000)

        assert "الكشك يعمل من جديد." in person.page.inner_text("#kiosk-away")
