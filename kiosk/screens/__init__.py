"""The touch screens of a kiosk drawn with Flet and served on this machine only.

What a screen shows and where its keys lead lies below, in `kiosk.acts`; every rule lies below that, in the station.
"""

from kiosk.screens.at_work import AtWork
from kiosk.screens.serving import make_app, open_browser, serve

__all__ = ["AtWork", "make_app", "open_browser", "serve"]
