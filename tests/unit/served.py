"""The intake on a real port of this machine, and a way to it that fails as told."""

import random
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import httpx2
import uvicorn


@contextmanager
def served(server: uvicorn.Server) -> Iterator[str]:
    """Run an intake's server while the context lasts; yields its address."""
    listening = socket.create_server(("127.0.0.1", 0))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield f"http{'s' if server.config.is_ssl else ''}://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
        listening.close()


class BadLine(httpx2.BaseTransport):
    """A line that loses requests and answers, and brings some requests twice, by chance from a seed."""

    def __init__(self, seed: int, *, loses: float = 0.3, doubles: float = 0.3) -> None:
        self._line = httpx2.HTTPTransport()
        self._chance = random.Random(seed)
        self._loses, self._doubles = loses, doubles

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        """Pass a request on, or not."""
        content = request.read()
        if self._chance.random() < self._loses:
            raise httpx2.ConnectError("the line is down", request=request)
        if self._chance.random() < self._doubles:
            self._line.handle_request(_copy(request, content)).read()
        response = self._line.handle_request(_copy(request, content))
        answer = response.read()
        if self._chance.random() < self._loses:
            raise httpx2.ReadError("the line went down", request=request)
        return httpx2.Response(response.status_code, headers=response.headers, stream=httpx2.ByteStream(answer))

    def close(self) -> None:
        """Let go of the line."""
        self._line.close()


def _copy(request: httpx2.Request, content: bytes) -> httpx2.Request:
    return httpx2.Request(request.method, request.url, headers=request.headers, content=content)
