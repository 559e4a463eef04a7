"""Every limit of the consolidator, with its unit and its reason."""

from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Limits of one consolidator; each may be set by an environment variable `CONSOLIDATOR_…`."""

    model_config = SettingsConfigDict(env_prefix="CONSOLIDATOR_", frozen=True)

    list_file_bytes: int = 32 * 1024 * 1024
    """Largest list file taken: room for 200,000 rows of 160 bytes, and small enough to check at once."""
    list_unpacked_bytes: int = 256 * 1024 * 1024
    """Largest workbook once unpacked: 8 times its file; a few packed bytes could otherwise fill the memory."""
    list_rows: int = 200_000
    """Most rows of a list: three times the characteristics of 9,000 plans."""
    list_columns: int = 200
    """Most columns of a list: five times those of the widest list, so that empty columns beside it do no harm."""
    ledger_chunk_rows: int = 20_000
    """Rows whose texts are made and fingerprinted at once: about 15 MB of text; more was no faster when measured."""
    ledger_table_rows: int = 20_000_000
    """Most rows of one table of a book: 1,000 times the largest day of a plant of 40 stations."""
    xlsx_sheet_rows: int = 1_000_000
    """Rows on one sheet of a workbook; the file format ends at 1,048,576 with its heading."""
    xlsx_cell_characters: int = 32_767
    """Most characters in one cell of a workbook, by the file format."""
    export_days: int = 3_700
    """Most days of one export: ten years and a little."""

    intake_refused_room_bytes: int = 1_073_741_824
    """Room for refused packets, 1 GiB; beyond it only the carry log tells of them, so nobody can fill the disk."""
    intake_waiting_s: float = 600.0
    """Longest wait for another program that writes to the intake; the longest such act takes minutes."""
    intake_requests_limit: int = 200
    """Requests served at once; 40 kiosks make a tenth of that, and more are told to come again."""
    intake_screen_every_s: float = 15.0
    """How often a running intake screens what came in; close of day screens the rest itself."""
    intake_screen_pages: int = 40_000
    """Pages screened in one go: about 40 MB of pages and 200 MB of memory."""
    intake_file_rows: int = 262_144
    """Screened files are joined up to this many rows; a day is then one or two files."""
    intake_files_to_join: int = 12
    """So many small screened files are joined into one."""
    held_before_h: int = 96
    """Readings handed out before the production day, for rules that look back over a weekend."""
    held_after_h: int = 24
    """Readings handed out after the production day, for neighbours in page order."""
    held_acts_before_d: int = 35
    """Acts that soon lose their meaning (badge, scan, stop) are handed out this many days back; all others for ever."""
    nightly_look_s: int = 20
    """Seconds between two looks whether a pass is due: the list is to be ready ten minutes after 06:05."""
    nightly_retry_min: int = 15
    """Minutes until a pass that failed is tried again: long enough for a disk to be put right, short of 06:30."""
    nightly_back_days: int = 31
    """Days that are caught up after the machine was off; a plant shut for longer closes its days by hand."""

    pin_tries: int = 3
    """Wrong PINs in a row that lock it; a shift lead or the quality manager unlocks it."""
    pin_least_digits: int = 6
    """Shortest PIN: kiosks hold the hashes, and of four digits there are too few to keep from a thief of a kiosk."""
    pin_most_digits: int = 12
    """Longest PIN; nobody keys more in gloves."""
    pin_memory_kib: int = 65_536
    """Memory of one argon2id hash, 64 MiB: the second choice of RFC 9106, fit for a small panel PC."""
    pin_passes: int = 3
    """Passes of argon2id over that memory (RFC 9106, second choice)."""
    pin_lanes: int = 4
    """Lanes of argon2id (RFC 9106, second choice)."""
    reason_least_letters: int = 8
    """Letters a reason needs; "ok" alone is none."""
    calibration_visit_h: int = 24
    """An as-found this soon after an as-left, without any use of the gauge in between, was taken after the touch."""
    gauge_not_seen_d: int = 14
    """A gauge neither scanned nor found at a roll call for so many days is named as not seen (X22)."""
    lost_pages_at_once: int = 100_000
    """Most pages of one declaration of loss: a kiosk writes fewer in a year."""
