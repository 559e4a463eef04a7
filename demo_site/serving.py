"""The consolidator's intake, served over real HTTP on this machine only, in played time."""

import socket
import threading
import time

import uvicorn

from consolidator.intake import make_app
from consolidator.plant import Plant
from demo_site.clocks import TrueTime

STARTED_WITHIN_S = 20.0


class Serving:
    """One running intake; `address` is where kiosks reach it."""

    def __init__(self, plant: Plant, true: TrueTime) -> None:
        self._socket = socket.socket()
        self._socket.bind(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        config = uvicorn.Config(make_app(plant, now=true.now), log_level="warning", lifespan="on")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True)
        self._thread.start()
        deadline = time.monotonic() + STARTED_WITHIN_S
        while not self._server.started:
            if time.monotonic() > deadline or not self._thread.is_alive():
                raise RuntimeError("the intake did not start")
            time.sleep(0.005)

    def stop(self) -> None:
        """Stop serving and wait for it."""
        self._server.should_exit = True
        self._thread.join(timeout=STARTED_WITHIN_S)
        self._socket.close()
