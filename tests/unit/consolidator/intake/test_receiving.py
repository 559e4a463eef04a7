"""The intake: every page counted once, every fault told by name, original bytes kept."""

import hashlib
import json
import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import orjson
import pytest

from consolidator.errors import IntakeDamaged, NotTakenIn, SeriesTaken, UnknownKiosk
from consolidator.intake import Archive, Held, Intake, Run, Unfit, enrol, rebuild, take_in_book, withdraw
from consolidator.plant import Plant
from kiosk.carry import Contact, Keys
from kiosk.errors import NewerFormat, PacketRefused
from kiosk.pages import canonical_bytes, fingerprint
from kiosk.pages.station import Remark, SetUpStart
from kiosk.times import read_time, write_time
from tests.unit.carried import (
    MORNING,
    Hand,
    MemoryBook,
    book_of,
    enrolled,
    make_plant,
    open_intake,
    packets_of,
    reading,
)
from tests.unit.kiosk.book.small_books import WatchedDisk

DAY = date(2026, 3, 10)
LATE = datetime(2027, 1, 1, tzinfo=UTC)


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An invented plant."""
    return make_plant(tmp_path / "plant")


@pytest.fixture
def keys(plant: Plant, tmp_path: Path) -> Keys:
    """Keys of the enrolled series S12-a."""
    return enrolled(plant, tmp_path / "kiosk")


@pytest.fixture
def intake(plant: Plant) -> Iterator[Intake]:
    """The plant's intake, its clock moved by hand."""
    with open_intake(plant) as opened:
        yield opened


def held(intake: Intake, by: datetime = LATE) -> Held:
    """Return what close of 10 March gets."""
    return Archive(intake.plant, intake).held(DAY, by_utc=by)


def numbers(found: Held) -> list[int]:
    """Return the page numbers of readings and acts together."""
    return sorted([*found.readings["number"].to_pylist(), *(each.page.number for each in found.acts)])


def log_of(intake: Intake) -> list[dict[str, object]]:
    """Return the carry log's lines."""
    return [json.loads(line) for line in (intake.plant.intake / "carry-log.jsonl").read_text().splitlines()]


def test_pages_arrive_at_close_as_they_were_kept(intake: Intake, keys: Keys) -> None:
    """Every field of a reading stands in its column, every other page is handed out whole."""
    book = book_of(8)

    intake.take_in(packets_of(book, keys)[0])

    found = held(intake)
    row = found.readings.to_pylist()[0]
    first = book.kept[0][0]
    assert (row["series"], row["number"], row["fingerprint"]) == ("S12-a", 1, fingerprint(book.kept[0][1]))
    assert row["kiosk_time_ms"] == int(read_time(first.kiosk_time).timestamp() * 1000)
    assert row["kiosk_offset_min"] == -240  # Eastern summer time, in force since 8 March 2026
    own = first.act.model_dump(mode="json") | {"typed": "", "reasons": "", "earlier": ""}
    own.pop("kind")
    assert {name: row[name] for name in own} == own
    assert [each.page for each in found.acts] == [book.kept[3][0], book.kept[7][0]]
    assert found.runs == {"S12-a": (Run(1, 8),)}


def test_the_same_packet_twice_is_counted_once_and_named_in_the_carry_log(intake: Intake, keys: Keys) -> None:
    """Rule 3.8: network and stick may both bring a page; that is no exception."""
    raw = packets_of(book_of(312), keys)
    for packet in raw:
        intake.take_in(packet)
    before = held(intake)

    again = [intake.take_in(packet) for packet in raw]

    after = held(intake)
    assert [(each.held, each.new) for each in again] == [(200, 0), (112, 0)]
    assert log_of(intake)[-1]["words"] == "S12-a 201–312: 112 already held, 0 new"
    assert after.readings.equals(before.readings)
    assert (after.conflicts, after.altered, after.unknown) == ((), (), ())


def test_runs_cut_otherwise_are_counted_page_by_page(intake: Intake, keys: Keys) -> None:
    """A packet that overlaps what is held brings only what is new."""
    book = book_of(30)
    intake.take_in(packets_of(book, keys, 5, 12)[0])
    intake.take_in(packets_of(book, keys, 20, 25)[0])

    taken = intake.take_in(packets_of(book, keys, 1, 30)[0])

    assert (taken.held, taken.new) == (14, 16)
    assert numbers(held(intake)) == list(range(1, 31))
    assert held(intake).altered == ()


@pytest.mark.parametrize("seed", range(6))
def test_any_order_any_doubling_and_any_cuts_give_the_same_pages(plant: Plant, keys: Keys, seed: int) -> None:
    """What is held is a function of the pages, not of how they came."""
    chance = random.Random(seed)
    book = book_of(60)
    cuts = sorted({1, 61, *chance.sample(range(2, 60), 6)})
    packets = [packets_of(book, keys, a, b - 1)[0] for a, b in pairwise(cuts)]
    packets += [packets_of(book, keys, a, min(60, a + 9))[0] for a in chance.sample(range(1, 60), 4)]
    chance.shuffle(packets)

    with open_intake(plant) as intake:
        for packet in packets:
            intake.take_in(packet)
            if chance.random() < 0.3:
                held(intake)
        found = held(intake)

    assert numbers(found) == list(range(1, 61))
    assert found.readings["fingerprint"].to_pylist() == [fingerprint(raw) for p, raw in book.kept if p.number % 4]
    assert (found.conflicts, found.altered) == ((), ())


def test_a_gap_shows_in_the_runs_until_the_page_comes(intake: Intake, keys: Keys) -> None:
    """O14: pages before and after a missing one are taken, and the missing one later."""
    book = book_of(10)
    intake.take_in(packets_of(book, keys, 1, 4)[0])
    intake.take_in(packets_of(book, keys, 6, 10)[0])
    assert held(intake).runs == {"S12-a": (Run(1, 4), Run(6, 10))}

    intake.take_in(packets_of(book, keys, 5, 5)[0])

    assert held(intake).runs == {"S12-a": (Run(1, 10),)}
    assert held(intake).altered == ()


def test_a_receipt_names_every_run_and_reaches_only_to_the_first_gap(intake: Intake, keys: Keys) -> None:
    """A kiosk may forget only what has nothing missing before it."""
    book = book_of(10)
    first = intake.take_in(packets_of(book, keys, 2, 4)[0])
    second = intake.take_in(packets_of(book, keys, 1, 1)[0])
    third = intake.take_in(packets_of(book, keys, 7, 8)[0])

    told = [orjson.loads(each.receipt.split(b"\n")[0]) for each in (first, second, third)]
    assert [each["through"] for each in told] == [0, 4, 4]
    assert told[2]["held"] == [[1, 4], [7, 8]]
    assert told[2]["fingerprint"] == fingerprint(book.kept[3][1])
    assert "fingerprint" not in told[0]


def test_two_different_pages_with_one_number_are_both_kept_and_named(intake: Intake, keys: Keys) -> None:
    """X34: neither is thrown away, and loading either again adds nothing."""
    book, other = book_of(6), book_of(5)
    other.keep(reading("0.31195"), MORNING + timedelta(minutes=6))
    for each in (book, other, other, book):
        intake.take_in(packets_of(each, keys)[0])

    found = held(intake)

    prints = {fingerprint(book.kept[5][1]), fingerprint(other.kept[5][1])}
    (conflict,) = found.conflicts
    assert (conflict.series, conflict.number, set(conflict.fingerprints)) == ("S12-a", 6, prints)
    rows = found.readings.filter(found.readings["number"].to_numpy() == 6)
    assert set(rows["fingerprint"].to_pylist()) == prints
    assert found.altered == ()


def test_a_page_altered_in_the_book_is_named_and_kept_as_it_came(intake: Intake, keys: Keys) -> None:
    """X76: the page after it names the fingerprint it had when it was kept; only the altered page is named."""
    book = book_of(8)
    altered = canonical_bytes(book.kept[4][0]).replace(b"0.31225", b"0.31235")
    book.kept[4] = (book.kept[4][0], altered)

    intake.take_in(packets_of(book, keys)[0])

    found = held(intake)
    (named,) = found.altered
    assert (named.series, named.number, named.unfit) == ("S12-a", 5, Unfit.CHAIN)
    assert named.fingerprint == fingerprint(altered)
    assert found.readings.filter(found.readings["number"].to_numpy() == 5)["value"].to_pylist() == ["0.31235"]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_an_altered_page_at_the_edge_of_a_packet_is_named_whichever_comes_first(
    intake: Intake, keys: Keys, order: tuple[int, int]
) -> None:
    """The chain is checked across packets as soon as both neighbours are held."""
    book = book_of(8)
    book.kept[3] = (book.kept[3][0], book.kept[3][1].replace(b"page 4", b"page 9"))
    packets = [packets_of(book, keys, 1, 4)[0], packets_of(book, keys, 5, 8)[0]]

    for place in order:
        intake.take_in(packets[place])

    assert [(each.number, each.unfit) for each in held(intake).altered] == [(4, Unfit.CHAIN)]


def test_a_page_that_does_not_fit_the_fingerprint_it_is_carried_with_is_named(intake: Intake, keys: Keys) -> None:
    """Signed by the kiosk all the same: something at the kiosk changed it after it was kept."""
    book = book_of(3)
    raw = _signed_anew(packets_of(book, keys)[0].replace(b"page 2", b"page 9"), keys)

    intake.take_in(raw)

    assert [(each.number, each.unfit) for each in held(intake).altered] == [(2, Unfit.FINGERPRINT)]
    assert numbers(held(intake)) == [1, 2, 3]


def test_a_book_that_does_not_begin_at_its_first_page_is_named(intake: Intake, keys: Keys) -> None:
    """Page 1 has no page before it."""
    book = MemoryBook()
    book.keep(reading(), previous="ab" * 32)

    intake.take_in(packets_of(book, keys)[0])

    assert [(each.number, each.unfit) for each in held(intake).altered] == [(1, Unfit.CHAIN)]


@pytest.mark.parametrize(
    ("old", "new"),
    [(b'"number":2,', b'"number":7,'), (b'"series":"S12-a"', b'"series":"S13-a"'), (b'"sample":1,', b'"sample":0,'),
     (b'"sample":1,', b'"sample":1.0,'), (b'"lot":"L-411",', b""), (b'"plant":"PL-1"', b'"plant":"PL-2"'),
     (b"-04:00", b"-99:00"), (b"2026-03-10T", b"2026-02-30T")],
)  # fmt: skip
def test_a_signed_page_that_is_no_page_of_this_book_is_kept_and_named(
    intake: Intake, keys: Keys, old: bytes, new: bytes
) -> None:
    """Nothing a kiosk signed is thrown away, and nothing unfit reaches the rules as if it were fit."""
    book = book_of(3)
    head, signature, one, two, three = packets_of(book, keys)[0].split(b"\n")[:5]
    page = two[65:].replace(old, new, 1)
    lines = [one, fingerprint(page).encode() + b" " + page, three]
    intake.take_in(_signed_anew(b"\n".join([head, signature, *lines, b""]), keys))

    found = held(intake)

    assert (2, Unfit.CONTENT) in [(each.number, each.unfit) for each in found.altered]
    assert found.runs == {"S12-a": (Run(1, 3),)}
    assert page in next((intake.plant.intake / "packets/S12-a").iterdir()).read_bytes()


def test_a_packet_of_another_plant_is_refused_by_name_and_kept(intake: Intake, keys: Keys) -> None:
    """Sticks travel; the wrong plant says so."""
    book = MemoryBook(plant="PL-9")
    book.keep(reading())
    raw = packets_of(book, keys)[0]

    with pytest.raises(PacketRefused, match="belongs to plant PL-9, and this is plant PL-1"):
        intake.take_in(raw)

    (line,) = log_of(intake)
    assert line["outcome"] == "refused"
    assert (intake.plant.intake / str(line["file"])).read_bytes() == raw
    assert held(intake).runs == {}


def test_a_packet_of_a_series_never_enrolled_is_told_at_close(intake: Intake) -> None:
    """X77: nothing proves who wrote it, so only the packet's own word is told, and its bytes are kept."""
    raw = packets_of(book_of(5, "S99-a"), Keys.make())[0]

    with pytest.raises(UnknownKiosk, match="S99-a"):
        intake.take_in(raw)

    (unknown,) = held(intake).unknown
    assert (unknown.series, unknown.first, unknown.last, unknown.is_withdrawn) == ("S99-a", 1, 5, False)
    assert (intake.plant.intake / unknown.file).read_bytes() == raw
    assert held(intake).readings.num_rows == 0


def test_pages_after_withdrawal_are_held_and_told_as_of_an_unknown_kiosk(intake: Intake, keys: Keys) -> None:
    """X77 again: the readings stand in the frame, so that a bad one among them still accuses."""
    book = book_of(8)
    intake.take_in(packets_of(book, keys, 1, 4)[0])
    withdraw(intake.plant, "S12-a", MORNING)

    intake.take_in(packets_of(book, keys, 5, 8)[0])

    (unknown,) = held(intake).unknown
    assert (unknown.series, unknown.first, unknown.last, unknown.is_withdrawn) == ("S12-a", 5, 8, True)
    assert numbers(held(intake)) == list(range(1, 9))
    assert held(intake).kiosks[0].withdrawn_at == MORNING


def test_a_packet_signed_with_another_key_is_refused(intake: Intake, keys: Keys) -> None:
    """Somebody who knows the series' name is not yet its kiosk."""
    with pytest.raises(PacketRefused, match="signature is not that of S12-a"):
        intake.take_in(packets_of(book_of(5), Keys.make())[0])


def test_a_page_of_a_newer_program_stays_at_the_kiosk(intake: Intake, keys: Keys) -> None:
    """Refused by name: after an update it is carried again and nothing is lost."""
    raw = packets_of(book_of(2), keys)[0].replace(b',"format":1,"kiosk_time"', b',"format":2,"kiosk_time"')

    with pytest.raises(NewerFormat, match="page 1 has page format 2"):
        intake.take_in(_signed_anew(raw, keys))

    assert held(intake).runs == {}


def test_a_page_nested_too_deep_is_refused_before_anything_parses_it(intake: Intake, keys: Keys) -> None:
    """A hundred thousand brackets cost a count, not a stack; brackets in words are only words."""
    deep = packets_of(book_of(1), keys)[0].replace(b'"remark":"page 1"', b'"remark":' + b"[" * 100_000)
    with pytest.raises(PacketRefused, match="nested deeper than 12"):
        intake.take_in(_signed_anew(deep, keys))

    book = MemoryBook()
    book.keep(Remark(words="[{" * 500 + '\\"'))
    intake.take_in(packets_of(book, keys)[0])

    assert numbers(held(intake)) == [1]


def test_refused_packets_do_not_fill_the_disk(plant: Plant, keys: Keys) -> None:
    """Beyond the room set for them only the carry log tells of them."""
    settings = Intake(plant).settings.model_copy(update={"intake_refused_room_bytes": 6_000})
    with Intake(plant, now=Hand(), settings=settings) as intake:
        for place in range(6):
            with pytest.raises(PacketRefused):
                intake.take_in(b"no packet %d " % place + b"0" * 2_000)

        kept = sum(path.stat().st_size for path in (plant.intake / "refused").glob("*.packet"))
        assert len(log_of(intake)) == 6
        assert 0 < kept <= 6_000


@pytest.mark.parametrize("broken", ["packets", "carry-log.jsonl"])
def test_a_full_disk_acknowledges_nothing_and_the_next_try_counts_once(plant: Plant, keys: Keys, broken: str) -> None:
    """What is not on the disk is not receipted; the kiosk carries again by itself."""
    disk = WatchedDisk()
    raw = packets_of(book_of(4), keys)[0]
    with Intake(plant, now=Hand(), disk=disk) as intake:
        disk.break_folder(plant.intake / broken, 28, after_bytes=40)
        with pytest.raises(NotTakenIn, match="No space left"):
            intake.take_in(raw)
        assert held(intake).runs == {}

        disk.mend_folder(plant.intake / broken)
        taken = intake.take_in(raw)

        assert (taken.new, numbers(held(intake))) == (4, [1, 2, 3, 4])


def test_a_torn_last_line_of_the_carry_log_is_set_aside_and_never_deleted(plant: Plant, keys: Keys) -> None:
    """A power cut may leave half a line; nobody was told of it."""
    book = book_of(8)
    with open_intake(plant) as intake:
        intake.take_in(packets_of(book, keys, 1, 4)[0])
    path = plant.intake / "carry-log.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"what":"packet","ser')

    with open_intake(plant) as intake:
        intake.take_in(packets_of(book, keys, 5, 8)[0])
        assert held(intake).runs == {"S12-a": (Run(1, 8),)}

    assert path.read_bytes().startswith(whole + b'{"what":"packet","at"')
    assert (plant.intake / "carry-log.torn").read_bytes() == b'{"what":"packet","ser\n'


def test_damage_inside_the_carry_log_stops_the_intake(plant: Plant, keys: Keys) -> None:
    """Evidence that cannot be read is not stepped over."""
    with open_intake(plant) as intake:
        for first in (1, 5):
            intake.take_in(packets_of(book_of(8), keys, first, first + 3)[0])
    path = plant.intake / "carry-log.jsonl"
    path.write_bytes(b"x" + path.read_bytes()[1:])

    with open_intake(plant) as intake, pytest.raises(IntakeDamaged, match="not JSON"):
        rebuild(intake)


def test_a_packet_altered_in_the_archive_is_found_and_named(plant: Plant, keys: Keys) -> None:
    """Original bytes are checked whenever they are read again."""
    with open_intake(plant) as intake:
        intake.take_in(packets_of(book_of(4), keys)[0])
    (path,) = (plant.intake / "packets/S12-a").iterdir()
    path.write_bytes(path.read_bytes().replace(b"page 2", b"page 9"))

    with open_intake(plant) as intake, pytest.raises(IntakeDamaged, match="changed on the way at page 2"):
        held(intake)


def test_everything_close_reads_can_be_made_again_from_logs_and_packets(plant: Plant, keys: Keys) -> None:
    """The catalogue and the screened files are no evidence: the same comes out when they are made anew."""
    book = book_of(40)
    book.kept[20] = (book.kept[20][0], book.kept[20][1].replace(b"page 21", b"page 99"))
    with open_intake(plant) as intake:
        for first in range(1, 40, 7):
            intake.take_in(packets_of(book, keys, first, min(40, first + 6))[0])
            held(intake)
        intake.take_contact(_contact(1_000, MORNING), MORNING)
        with pytest.raises(UnknownKiosk):
            intake.take_in(packets_of(book_of(5, "S99-a"), keys)[0])
        before = held(intake)

        assert rebuild(intake) == 40

        after = held(intake)
    assert after.readings.equals(before.readings)
    assert after.contacts.equals(before.contacts)
    for name in ("acts", "kiosks", "runs", "conflicts", "altered", "unknown"):
        assert getattr(after, name) == getattr(before, name)
    assert len(after.altered) == 1


def test_a_lost_catalogue_is_made_again_by_itself(plant: Plant, keys: Keys) -> None:
    """It is an index, nothing more."""
    with open_intake(plant) as intake:
        intake.take_in(packets_of(book_of(9), keys)[0])
        before = held(intake)
    for path in (plant.intake / "screened").iterdir():
        path.unlink()

    with open_intake(plant) as intake:
        after = held(intake)

    assert after.readings.equals(before.readings)
    assert after.acts == before.acts


def test_what_came_later_than_the_moment_asked_for_is_not_handed_out(intake: Intake, keys: Keys) -> None:
    """A closing can be repeated at any time with what was known then."""
    book = book_of(8)
    intake.take_in(packets_of(book, keys, 1, 4)[0])
    between = intake._now()
    early = held(intake, between)
    book.kept[4] = (book.kept[4][0], book.kept[4][1].replace(b"page 5", b"page 9"))
    intake.take_in(packets_of(book, keys, 5, 8)[0])
    withdraw(intake.plant, "S12-a", between + timedelta(days=1))

    again = held(intake, between)

    assert again.readings.equals(early.readings)
    assert (again.acts, again.runs, again.altered, again.kiosks) == (early.acts, early.runs, (), early.kiosks)
    assert len(held(intake).altered) == 1


def test_contacts_tell_both_clocks_and_an_old_one_played_again_is_not_noted(intake: Intake, keys: Keys) -> None:
    """A recorded contact sent again would make a clock look wrong that is right."""
    clock_off = MORNING + timedelta(minutes=47)
    intake.take_contact(_contact(60_000, clock_off), MORNING)
    intake.take_contact(_contact(120_000, clock_off + timedelta(minutes=1)), MORNING + timedelta(minutes=1))

    intake.take_contact(_contact(60_000, clock_off), MORNING + timedelta(hours=5))

    rows = held(intake).contacts.to_pylist()
    assert [row["kiosk_ms"] - row["consolidator_ms"] for row in rows] == [47 * 60_000] * 2
    assert [row["running_ms"] for row in rows] == [60_000, 120_000]
    assert held(intake).kiosks[0].last_contact_at == MORNING + timedelta(minutes=1)


def test_a_kiosk_whose_clock_is_years_off_is_found_for_its_true_day(intake: Intake, keys: Keys) -> None:
    """By running time within the power-on of a contact, and by the difference for earlier ones."""
    wrong = MORNING.replace(year=2001)
    book = MemoryBook()
    book.keep(reading("0.31200"), wrong, session=1, running_ms=5_000)
    book.keep(reading("0.31205"), wrong + timedelta(minutes=5), session=2, running_ms=1_000)
    book.keep(reading("0.31210"), MORNING + timedelta(days=60), session=3, running_ms=1_000)
    intake.take_in(packets_of(book, keys)[0])
    assert held(intake).readings.num_rows == 0

    intake.take_contact(_contact(61_000, wrong + timedelta(minutes=6), session=2), MORNING + timedelta(minutes=6))

    assert held(intake).readings["value"].to_pylist() == ["0.31200", "0.31205"]


def test_readings_far_from_the_day_are_left_out_and_lasting_acts_are_not(intake: Intake, keys: Keys) -> None:
    """Close of one day costs the same after ten years; a set-up of last year is still known."""
    book = MemoryBook()
    for days in (400, 20, 3, 0, -3):
        book.keep(reading(remark=f"{days}"), MORNING - timedelta(days=days))
        book.keep(Remark(words=f"{days}"), MORNING - timedelta(days=days))
    book.keep(_set_up(), MORNING - timedelta(days=400))
    intake.take_in(packets_of(book, keys)[0])

    found = held(intake)

    assert found.readings["remark"].to_pylist() == ["3", "0"]
    assert [getattr(each.page.act, "words", None) for each in found.acts] == ["20", "3", "0", "-3", ""]


def test_a_series_is_enrolled_once_and_only_under_a_name_that_can_be_one(
    plant: Plant, keys: Keys, tmp_path: Path
) -> None:
    """A replacement kiosk gets a new series; no name can reach outside its folder."""
    for series in ("S12-a", "../x", "", "a/b", "x" * 40):
        with pytest.raises(SeriesTaken):
            enrol(plant, series=series, station="S12", now=MORNING, kiosk_folder=tmp_path / "other")

    assert sorted(path.name for path in (plant.intake / "kiosks").iterdir()) == ["S12-a.json"]


def test_the_desk_s_own_book_comes_in_by_the_same_checks(intake: Intake, plant: Plant) -> None:
    """The desk's acts are pages too."""
    keys = enrolled(plant, plant.desk, "desk-a")
    book = MemoryBook(series="desk-a", station="desk")
    book.keep(Remark(words="one"))
    assert take_in_book(intake, book, "desk-a", keys.signing) == 1
    book.keep(Remark(words="two"))

    assert take_in_book(intake, book, "desk-a", keys.signing) == 1
    assert take_in_book(intake, book, "desk-a", keys.signing) == 0

    assert [each.page.series for each in held(intake).acts] == ["desk-a", "desk-a"]
    assert {line["by"] for line in log_of(intake)} == {"desk"}


def test_the_days_that_something_came_for_are_told(intake: Intake, keys: Keys) -> None:
    """Close can go over the days that late pages belong to."""
    book = MemoryBook()
    for days in (5, 4, 0):
        book.keep(reading(), MORNING - timedelta(days=days))
    intake.take_in(packets_of(book, keys, 1, 1)[0])
    since = intake._now()
    intake.take_in(packets_of(book, keys, 2, 3)[0])
    archive = Archive(intake.plant, intake)

    assert archive.span_received(since_utc=since, by_utc=LATE) == (DAY - timedelta(days=4), DAY)
    assert archive.span_received(since_utc=LATE, by_utc=LATE) is None


@pytest.mark.slow
def test_many_small_files_are_joined_and_nothing_changes(plant: Plant, keys: Keys) -> None:
    """A day stays a few files however often kiosks carry."""
    book = book_of(60)
    with open_intake(plant) as intake:
        for number in range(1, 61):
            intake.take_in(packets_of(book, keys, number, number)[0])
            found = held(intake)
        files = list((plant.intake / "screened").glob("*.arrow"))

    assert len(files) < 30
    assert numbers(found) == list(range(1, 61))


def _contact(running_ms: int, kiosk_time: datetime, session: int = 1) -> Contact:
    return Contact(
        plant="PL-1", series="S12-a", kiosk_time=write_time(kiosk_time), running_ms=running_ms, session=session, last=0
    )


def _set_up() -> SetUpStart:
    return SetUpStart(set_up="SU-1", lot="L-1", part="B-3124", revision="C", operation="80", set_by="P-107")


def _signed_anew(raw: bytes, keys: Keys) -> bytes:
    """Return a packet whose header fits its changed body, as a kiosk would sign it that was tampered with."""
    head, _, body = raw.split(b"\n", 2)
    told = orjson.loads(head)
    told["body"] = hashlib.sha256(body).hexdigest()
    line = orjson.dumps(told, option=orjson.OPT_SORT_KEYS)
    return line + b"\n" + keys.signing.sign(line).hex().encode() + b"\n" + body
