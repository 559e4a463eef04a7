"""A new kiosk enrolled by stick: keys that never leave it, numbers that two persons compare, and every wrong stick."""

import re
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest
import rfc8785

from consolidator.desk.kiosks import enrol_new_kiosk
from consolidator.errors import EnrolmentRefused, SeriesTaken
from consolidator.intake import Intake, Place, enrol_from_stick, issue_stick
from consolidator.intake.enrolment import find, keys_of
from consolidator.lists import current
from consolidator.plant import Plant
from kiosk.book import readable_pages
from kiosk.carry import Enrolment, kiosk_keys, lists_version
from kiosk.carry.enrolling import NewKiosk, Request, answer_path, is_enrolled, key_number, request_path
from kiosk.carry.keys import Keys
from kiosk.carry.statements import write_statement
from kiosk.errors import ForeignStick, NewerFormat, NotEnrolled, NotKept, StatementRefused, StickAway
from kiosk.pages import read_page
from kiosk.ports import MachineClock, SyncedDisk
from kiosk.times import write_time
from tests.unit.carried import MORNING, make_plant, open_intake, take_over_lists
from tests.unit.kiosk.book.small_books import WatchedDisk

DISK = SyncedDisk()
S12 = Place("S12-b", "S12")


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An invented plant with lists and a stick of its own in tmp_path/stick."""
    plant = make_plant(tmp_path / "plant")
    take_over_lists(plant)
    with open_intake(plant) as intake:
        issue_stick(intake, tmp_path / "stick", "K-7", MORNING)
    return plant


def new_kiosk(folder: Path, name: str = "kiosk") -> NewKiosk:
    """Return the new kiosk of a folder, with the stick in its socket."""
    return NewKiosk(folder / name, folder / "stick", DISK)


def enrolled_by_stick(plant: Plant, folder: Path, place: Place = S12) -> NewKiosk:
    """Let a new kiosk ask and the consolidator answer."""
    kiosk = new_kiosk(folder)
    kiosk.ask(MORNING)
    enrol_from_stick(plant, folder / "stick", place, number=kiosk.number, now=MORNING)
    return kiosk


def test_a_new_kiosk_asks_is_answered_and_is_one_of_the_plant(plant: Plant, tmp_path: Path) -> None:
    """It knows its place, whom to believe and the lists; the consolidator knows its two public keys."""
    kiosk = enrolled_by_stick(plant, tmp_path)

    answer = kiosk.answer()
    kiosk.take(answer)

    folder = tmp_path / "kiosk"
    assert Enrolment.open(folder) == answer.enrolment
    assert (answer.enrolment.station, answer.enrolment.series, answer.enrolment.plant) == ("S12", "S12-b", "PL-1")
    assert answer.number == key_number(keys_of(plant).signing_hex, keys_of(plant).sealing_hex)
    assert lists_version(folder) == 1
    known = find(plant, "S12-b")
    assert known is not None
    assert (known.signs, known.opens) == (kiosk_keys(folder).signing_hex, kiosk_keys(folder).sealing_hex)
    assert is_enrolled(folder)


def test_no_private_key_and_no_pin_is_ever_read_off_the_stick(plant: Plant, tmp_path: Path) -> None:
    """What lies on a lost stick is the kiosk's public keys, and an answer that only the kiosk can open."""
    pins = b'{"format":1,"people":{"P-106":"a hash"}}'
    (plant.keys / "pins.json").write_bytes(pins)
    kiosk = enrolled_by_stick(plant, tmp_path)
    kiosk.take(kiosk.answer())

    every = b"".join(path.read_bytes() for path in (tmp_path / "stick").rglob("*") if path.is_file())

    assert b"PRIVATE" not in every
    assert pins not in every
    assert (tmp_path / "kiosk/pins.json").read_bytes() == pins
    for name in ("key", "pins.json"):
        assert stat.S_IMODE((tmp_path / "kiosk" / name).stat().st_mode) == 0o600


def test_the_number_is_sixteen_digits_in_groups_and_another_for_other_keys(plant: Plant, tmp_path: Path) -> None:
    """It can be read out over a telephone; the same kiosk keeps its own over a restart."""
    one, again, other = new_kiosk(tmp_path), new_kiosk(tmp_path), new_kiosk(tmp_path, "other")

    assert re.fullmatch(r"\d{4}( \d{4}){3}", one.number)
    assert one.number == again.number != other.number


def test_two_new_kiosks_share_a_stick_and_neither_takes_the_others_answer(plant: Plant, tmp_path: Path) -> None:
    """Each finds its own; put in the other's place, it cannot even be opened."""
    one, other = new_kiosk(tmp_path), new_kiosk(tmp_path, "other")
    one.ask(MORNING)
    other.ask(MORNING)
    stick = tmp_path / "stick"
    enrol_from_stick(plant, stick, S12, number=one.number, now=MORNING)

    assert one.answer().enrolment.series == "S12-b"
    with pytest.raises(NotEnrolled, match="No answer for this kiosk"):
        other.answer()
    answer_path(stick, one.number).rename(answer_path(stick, other.number))
    with pytest.raises(StatementRefused, match="could not be opened"):
        other.answer()


def test_a_number_misread_a_series_used_before_and_a_request_changed_enrol_nobody(plant: Plant, tmp_path: Path) -> None:
    """Nothing is written: neither to the plant nor to the stick."""
    kiosk = enrolled_by_stick(plant, tmp_path)
    other, stick = new_kiosk(tmp_path, "other"), tmp_path / "stick"
    other.ask(MORNING)
    before = sorted(path.name for path in (plant.intake / "kiosks").iterdir())

    wrong = f"{(int(other.number.replace(' ', '')) + 1) % 10**16:016d}"
    for number in (wrong, "", "../../keys", "12a4"):
        with pytest.raises(EnrolmentRefused, match=r"[Nn]o"):
            enrol_from_stick(plant, stick, Place("S13-a", "S13"), number=number, now=MORNING)
    with pytest.raises(SeriesTaken, match="enrolled before"):
        enrol_from_stick(plant, stick, S12, number=other.number, now=MORNING)
    path = request_path(stick, other.number)
    content = path.read_bytes()
    path.write_bytes(content.replace(b'"made_at":"2026', b'"made_at":"2027', 1))
    with pytest.raises(StatementRefused, match="signature"):
        enrol_from_stick(plant, stick, Place("S13-a", "S13"), number=other.number, now=MORNING)
    path.write_bytes(content.replace(b'"format":1', b'"format":2', 1))
    with pytest.raises(NewerFormat, match="format 2"):
        enrol_from_stick(plant, stick, Place("S13-a", "S13"), number=other.number, now=MORNING)
    path.write_bytes(request_path(stick, kiosk.number).read_bytes())
    with pytest.raises(EnrolmentRefused, match="No kiosk with number"):
        enrol_from_stick(plant, stick, Place("S13-a", "S13"), number=other.number, now=MORNING)

    assert sorted(path.name for path in (plant.intake / "kiosks").iterdir()) == before


def test_done_again_for_the_same_kiosk_the_answer_is_put_on_the_stick_once_more(plant: Plant, tmp_path: Path) -> None:
    """A stick pulled out too early burns no series."""
    kiosk = enrolled_by_stick(plant, tmp_path)
    known = find(plant, "S12-b")
    answer_path(tmp_path / "stick", kiosk.number).unlink()

    enrol_from_stick(plant, tmp_path / "stick", S12, number=kiosk.number, now=datetime(2027, 1, 1, tzinfo=UTC))

    assert find(plant, "S12-b") == known
    kiosk.take(kiosk.answer())


def test_without_lists_no_kiosk_is_enrolled(tmp_path: Path) -> None:
    """A kiosk without lists can keep nothing."""
    plant = make_plant(tmp_path / "plant")
    with open_intake(plant) as intake:
        issue_stick(intake, tmp_path / "stick", "K-7", MORNING)

    with pytest.raises(EnrolmentRefused, match="no lists yet"):
        enrolled_by_stick(plant, tmp_path)

    assert find(plant, "S12-b") is None


def test_a_station_that_the_lists_do_not_name_gets_no_kiosk(plant: Plant, tmp_path: Path) -> None:
    """A slip in the station's number would put readings where nobody measured."""
    with pytest.raises(EnrolmentRefused, match="name no station S99"):
        enrolled_by_stick(plant, tmp_path, Place("S99-a", "S99"))

    assert find(plant, "S99-a") is None


def test_a_stick_of_nobody_or_of_another_plant_is_told(plant: Plant, tmp_path: Path) -> None:
    """Foreign sticks are neither read nor written; an answer on another plant's stick is not believed."""
    with pytest.raises(ForeignStick, match="No stick can be read"):
        NewKiosk(tmp_path / "kiosk", None, DISK).ask(MORNING)
    (tmp_path / "toy").mkdir()
    with pytest.raises(ForeignStick, match="No stick of the plant"):
        NewKiosk(tmp_path / "kiosk", tmp_path / "toy", DISK).ask(MORNING)
    assert list((tmp_path / "toy").iterdir()) == []

    kiosk = enrolled_by_stick(plant, tmp_path)
    other = make_plant(tmp_path / "other-plant", "PL-2")
    with Intake(other) as intake:
        issue_stick(intake, tmp_path / "stick", "K-8", MORNING)
    with pytest.raises(ForeignStick, match="ignored"):
        kiosk.answer()
    with pytest.raises(ForeignStick, match="ignored"):
        enrol_from_stick(plant, tmp_path / "stick", Place("S13-a", "S13"), number=kiosk.number, now=MORNING)


def test_an_answer_or_lists_changed_on_the_way_are_refused(plant: Plant, tmp_path: Path) -> None:
    """The kiosk stays new; carried again, it goes on."""
    kiosk = enrolled_by_stick(plant, tmp_path)
    lists = tmp_path / "stick/back/S12-b/lists"
    sound = lists.read_bytes()
    lists.write_bytes(sound[:-1] + bytes([sound[-1] ^ 1]))
    answer = kiosk.answer()
    with pytest.raises(StatementRefused, match="could not be opened"):
        kiosk.take(answer)
    lists.unlink()
    with pytest.raises(NotEnrolled):
        kiosk.take(answer)
    path = answer_path(tmp_path / "stick", kiosk.number)
    content = path.read_bytes()
    path.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    with pytest.raises(StatementRefused, match="could not be opened"):
        kiosk.answer()

    assert not is_enrolled(tmp_path / "kiosk")
    path.write_bytes(content)
    lists.write_bytes(sound)
    kiosk.take(kiosk.answer())
    assert is_enrolled(tmp_path / "kiosk")


def test_power_cut_at_any_write_leaves_it_new_with_the_same_keys(plant: Plant, tmp_path: Path) -> None:
    """`kiosk.toml` comes last and whole; begun again it is enrolled under the same number."""
    number = enrolled_by_stick(plant, tmp_path).number
    names = ("consolidator.pem", "lists.json", "kiosk.toml")
    for name in names:
        disk = WatchedDisk()
        disk.break_folder(tmp_path / "kiosk" / f"{name}.new", after_bytes=7)
        kiosk = NewKiosk(tmp_path / "kiosk", tmp_path / "stick", disk)
        with pytest.raises(NotKept, match="own disk"):
            kiosk.take(kiosk.answer())
        assert not is_enrolled(tmp_path / "kiosk")
        assert new_kiosk(tmp_path).number == number

    kiosk = new_kiosk(tmp_path)
    kiosk.take(kiosk.answer())
    assert is_enrolled(tmp_path / "kiosk")


def test_half_written_keys_of_a_power_cut_are_made_anew(plant: Plant, tmp_path: Path) -> None:
    """Nobody was told of them yet."""
    (tmp_path / "kiosk").mkdir()
    (tmp_path / "kiosk/key").write_bytes(b"-----BEGIN PRIV")

    kiosk = new_kiosk(tmp_path)
    kiosk.ask(MORNING)

    assert kiosk_keys(tmp_path / "kiosk").signing_hex


def test_a_stick_that_is_full_or_pulled_out_is_told(plant: Plant, tmp_path: Path) -> None:
    """What to do stands in the message, and nothing is lost."""
    disk = WatchedDisk()
    disk.break_folder(tmp_path / "stick")

    with pytest.raises(StickAway, match="not fully written"):
        NewKiosk(tmp_path / "kiosk", tmp_path / "stick", disk).ask(MORNING)


@pytest.mark.parametrize(
    ("persons", "why"),
    [
        (("P-101", "P-106"), "not a quality manager"),
        (("P-106", "P-106"), "the same"),
        (("P-106", "P-999"), "not known"),
    ],
)
def test_a_quality_manager_and_another_person_enrol_together(
    plant: Plant, tmp_path: Path, persons: tuple[str, str], why: str
) -> None:
    """Nobody brings a kiosk into a plant alone; done twice by two who may, one page says it."""
    kiosk, clock = new_kiosk(tmp_path), MachineClock(plant.zone)
    kiosk.ask(MORNING)

    with pytest.raises(EnrolmentRefused, match=why):
        enrol_new_kiosk(plant, tmp_path / "stick", S12, kiosk.number, persons, clock=clock)
    assert find(plant, "S12-b") is None

    for _ in range(2):
        enrol_new_kiosk(plant, tmp_path / "stick", S12, kiosk.number, ("P-106", "P-108"), clock=clock)
    kept = [read_page(content) for content in readable_pages(plant.desk / "store-a")]
    assert [page.person for page in kept if page.act.kind == "kiosk enrolled"] == ["P-106"]


def test_lists_come_byte_for_byte_as_the_plant_keeps_them(plant: Plant, tmp_path: Path) -> None:
    """The version's fingerprint is that of the plant's own file."""
    kiosk = enrolled_by_stick(plant, tmp_path)
    kiosk.take(kiosk.answer())

    kept = (tmp_path / "kiosk/lists.json").read_bytes()
    assert kept == rfc8785.dumps(current(plant).model_dump(mode="json", exclude_none=True))


def test_a_request_shown_again_gives_its_kiosk_no_second_series(plant: Plant, tmp_path: Path) -> None:
    """One kiosk keeps one series; two with the same keys could not be told apart."""
    kiosk = enrolled_by_stick(plant, tmp_path)

    with pytest.raises(EnrolmentRefused, match="has series S12-b"):
        enrol_from_stick(plant, tmp_path / "stick", Place("S13-a", "S13"), number=kiosk.number, now=MORNING)

    assert find(plant, "S13-a") is None
    assert kiosk.answer().enrolment.series == "S12-b"


def test_a_key_that_nothing_can_be_sealed_for_burns_no_series(plant: Plant, tmp_path: Path) -> None:
    """X25519 with a public key of nought gives no shared secret (RFC 7748, section 6.1)."""
    keys, stick = Keys.make(), tmp_path / "stick"
    new_kiosk(tmp_path).ask(MORNING)
    request = Request(signs=keys.signing_hex, opens="00" * 32, made_at=write_time(MORNING))
    request_path(stick, request.number).write_bytes(write_statement(request, keys.signing))

    with pytest.raises(StatementRefused, match="sealed"):
        enrol_from_stick(plant, stick, S12, number=request.number, now=MORNING)

    assert find(plant, "S12-b") is None


def test_a_kiosk_that_lost_only_its_enrolment_is_not_taken_for_a_new_one(plant: Plant, tmp_path: Path) -> None:
    """Its book may hold pages that nobody carried, and its key is what they are signed with."""
    kiosk = enrolled_by_stick(plant, tmp_path)
    kiosk.take(kiosk.answer())
    folder = tmp_path / "kiosk"
    (folder / "store-b").mkdir()
    (folder / "store-b/book.json").write_bytes(b"{}")
    (folder / "kiosk.toml").unlink()

    assert is_enrolled(folder)
