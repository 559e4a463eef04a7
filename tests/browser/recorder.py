"""A proxy that lets nothing through and writes down who was asked for.

A browser sends what is not for this machine itself to its proxy: page, workers and the browser's own errands alike.
"""

import socketserver
import threading
from types import TracebackType
from typing import ClassVar


class _Ask(socketserver.StreamRequestHandler):
    asked: ClassVar[list[str]]

    def handle(self) -> None:
        line = self.rfile.readline(4096).decode("latin-1").strip()
        if line:
            self.asked.append(line)
        self.wfile.write(b"HTTP/1.1 502 Nothing leaves this machine\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")


class Recorder:
    """Runs while a block lasts; `asked` holds the first line of every request, the oldest first."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        handler = type("Ask", (_Ask,), {"asked": self.asked})
        self._server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), handler)
        self._server.daemon_threads = True

    @property
    def address(self) -> str:
        """Where the browser is to send what is not for this machine."""
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def __enter__(self) -> "Recorder":
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
