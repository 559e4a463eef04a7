"""What is served, to whom, and on how many pages at once."""

import socket
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.kiosks import Served, make_kiosk, one_port
from tests.browser.person import Person
from tests.browser.test_measuring import at_first_piece

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]


def test_the_kiosk_answers_within_five_seconds(tmp_path: Path) -> None:
    """From the command to the first answer, on whatever machine runs this."""
    one = Served(make_kiosk(tmp_path), one_port())
    try:
        assert one.start() < 5
    finally:
        one.kill()


def test_only_this_machines_own_page_gets_in(kiosk: Served) -> None:
    """Another host's name is refused, another page's line is closed, and threads of the renderer are off."""
    strange = urllib.request.Request(kiosk.address, headers={"Host": "kiosk.example"})
    with pytest.raises(urllib.error.HTTPError, match="400"):
        urllib.request.urlopen(strange, timeout=5)
    with urllib.request.urlopen(kiosk.address, timeout=5) as answer:
        headers = {name.lower() for name in answer.headers}
        assert "default-src 'self'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-cache"

    assert headers.isdisjoint(
        {"cross-origin-opener-policy", "cross-origin-embedder-policy", "access-control-allow-origin"}
    )
    assert _status_of_line(kiosk.port, "http://evil.example") == "403"
    assert _status_of_line(kiosk.port, f"http://127.0.0.1:{kiosk.port}") == "101"


def _status_of_line(port: int, origin: str) -> str:
    asked = (
        f"GET /kiosk/keys HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        f"Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Version: 13\r\nOrigin: {origin}\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
        line.sendall(asked.encode())
        return line.recv(64).decode().split()[1]


def test_it_listens_on_this_machine_only(kiosk: Served) -> None:
    """The listening socket of the port is bound to 127.0.0.1 and to nothing else (Linux: /proc/net/tcp)."""
    rows = [row.split() for row in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    listening = [row[1] for row in rows if row[3] == "0A" and int(row[1].split(":")[1], 16) == kiosk.port]

    assert listening == [f"0100007F:{kiosk.port:04X}"]
    six = Path("/proc/net/tcp6")
    assert not six.exists() or f":{kiosk.port:04X} " not in six.read_text()


def test_a_second_page_says_where_the_first_is_and_may_take_over(kiosk: Served, somebody: Somebody) -> None:
    """One live screen a kiosk: what is scanned on the other page means nothing until it took over."""
    first = at_first_piece(somebody(kiosk))
    second = somebody(kiosk)

    second.sees("Station S12 is open on another page of this kiosk.")
    second.scan("B-102")
    first.touch("4")
    first.sees("4 divisions")
    second.touch("Take over here")
    second.sees("4 divisions")
    first.sees("Station S12 is open on another page of this kiosk.")

    assert [page.person for page in kiosk.pages() if page.act.kind == "badge in"] == ["P-101"]
