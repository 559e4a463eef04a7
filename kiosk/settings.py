"""Every limit of the kiosk, with its unit and its reason."""

from pathlib import Path

from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Limits of one kiosk; each may be set by an environment variable `KIOSK_…`."""

    model_config = SettingsConfigDict(env_prefix="KIOSK_", frozen=True)

    segment_pages: int = 200
    """Pages in one segment of a book; small, so that a torn or worn file touches little, and a natural packet."""
    counter_lines_limit: int = 2_000
    """Lines of the counter's file after which it begins afresh, so that it stays under half a megabyte."""
    keep_after_receipt_days: int = 30
    """Days a carried page stays on the kiosk after its receipt, so that a loss at the other end can be mended."""
    room_wanted_days: int = 90
    """Days of room asked for; below this the kiosk says so, long before a reading is refused."""
    pages_a_day_estimate: int = 1_200
    """Pages a day reckoned with for room: three shifts of 400, the most seen at one station."""
    page_bytes_estimate: int = 2_000
    """Bytes one page takes in one store, reckoned with for room (a usual page is about 1 kB)."""
    room_reserve_bytes: int = 5_000_000
    """Bytes that must stay free; below this no reading is taken, so that switching on and carrying still work."""
    page_limit_bytes: int = 1_000_000
    """Most bytes of one page; a longer one is a fault somewhere, not a page."""
    clock_back_told_s: int = 1
    """Seconds the clock may lie behind the page before without being told: less is the jitter of a clock being set."""

    carry_packet_pages: int = 200
    """Pages in one packet: a closed segment of the book, about 200 kB, two seconds on a poor line."""
    carry_packet_pages_limit: int = 500
    """More pages than this in one packet are refused: a few hundred is all a packet ever holds."""
    carry_page_bytes_limit: int = 262_144
    """A page is about 1 kB; the longest words and tables that a page may hold stay far under 256 KiB."""
    carry_packet_bytes_limit: int = 16_777_216
    """What one packet may make the other side hold in memory: 16 MiB, sixteen times an ordinary full packet."""
    carry_depth_limit: int = 12
    """Brackets within brackets in a page; the deepest page has 5."""
    carry_statement_bytes_limit: int = 1_048_576
    """A receipt that names ten thousand broken runs stays under 1 MiB."""
    carry_lists_bytes_limit: int = 67_108_864
    """All lists of a plant of 900 people and 9,000 gauges stay under 64 MiB."""
    carry_timeout_s: float = 20.0
    """A packet on a line of 100 kbit/s takes this long."""
    carry_attempts: int = 4
    """Tries for each request before the consolidator is called away; the next round tries again."""
    carry_wait_s: float = 0.5
    """First wait between two tries; it doubles, with chance, up to ten times as long."""
    carry_agreed_s: int = 120
    """Clock difference up to which nothing needs to be done (N2)."""
    stick_files_limit: int = 20_000
    """Files of one series that are looked at on a stick; 90 days of a busy kiosk are 200."""

    station_idle_min: int = 30
    """Minutes after which a gauge in hand is scanned again and an unfinished sample is called so."""
    station_out_warning_min: int = 60
    """Minutes before a gauge goes out at which the station says so again."""
    station_badge_reminder_min: int = 20
    """Minutes without a badge tap after which the station asks for one."""
    station_keyings_limit: int = 20
    """Keyings of one reading that a page can hold; nobody ever needed five."""

    language: str = "en"
    """Language of the screens while nobody is badged in; afterwards that of the badge."""

    panel_diagonal_in: float = 12.1
    """Diagonal of the panel; 12.1 in is the smallest on which a digit pad with 24 mm keys leaves room for words."""
    panel_width_px: int = 1280
    """Pixels across the panel."""
    panel_height_px: int = 800
    """Pixels down the panel."""
    screen_bounce_ms: int = 40
    """Two contacts closer than this are one press of a glove that bounced; people manage 12 presses a second."""
    screen_settle_ms: int = 400
    """After something was kept, touches are ignored this long: a double tap must not answer the next question."""
    screen_wipe_s: int = 10
    """How long touch is ignored while the screen is wiped."""
    instrument_apart_ms: int = 1_000
    """A second value of one gauge within this is a bouncing foot switch: no gauge is put to two pieces in a second."""
    stick_folder: Path | None = None
    """Where the operating system puts a stick of the plant; none: this kiosk does not carry by stick."""
    carry_every_s: int = 300
    """Seconds between two rounds of carrying over the network."""
