"""The desk's book of a played plant, let go while another program needs it."""

from collections.abc import Iterator
from contextlib import contextmanager

from consolidator.desk import open_desk
from demo_site.clocks import KioskTime, PlayedChance
from demo_site.player import Player


@contextmanager
def desk_let_go(player: Player) -> Iterator[None]:
    """Let another program have the desk's book for a while, as only one may have it open."""
    player.desk.close()
    try:
        yield
    finally:
        player.desk = open_desk(player.plant, clock=KioskTime(player.true), chance=PlayedChance(f"{player.true.now()}"))
