"""A kiosk whose folder was copied: the copy keeps another page under a number that the kiosk has used itself.

Owns that one page. Everything a station does stays with `kiosk.station`.
"""

import httpx2

from demo_site.play.played import Trace
from demo_site.play.player import Player
from demo_site.play.scenario import Event, ScenarioRefused
from kiosk.carry import kiosk_keys, make_packets
from kiosk.measure.decimals import read_figure
from kiosk.pages import canonical_bytes
from kiosk.pages.readings import Reading


def bring_another_page(player: Player, event: Event, trace: Trace) -> None:
    """Carry a page with the number of an earlier reading and another figure in it, signed with the kiosk's own key.

    Raises:
        ScenarioRefused: the page named is no reading.
    """
    assert event.station is not None
    kiosk = player.kiosk(event.station)
    number = int(event.told["number of"])
    page = kiosk.book.page(number)
    if not isinstance(page.act, Reading):
        why = f"Page {number} of {kiosk.series} is no reading."
        raise ScenarioRefused(f"{event.where}: no other page made.", why=why, next_step="Name a reading.")
    keyed = event.told["keyed"]
    act = page.act.model_copy(update={"keyed": keyed, "value": read_figure(keyed)})
    other = page.model_copy(update={"act": act})
    for _, packet in make_packets([(other, canonical_bytes(other))], kiosk_keys(kiosk.folder).signing):
        answer = httpx2.post(f"{player.serving.address}/carry/v1/packets", content=packet, trust_env=False)
        answer.raise_for_status()
    trace.pages.append(f"{kiosk.series}/{number}")
