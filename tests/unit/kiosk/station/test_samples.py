"""Samples piece by piece: key, look again, keep, key anew, end; every figure is a hand calculation."""

import pytest

from kiosk.errors import BadgeRefused, NotANumber, NotInSample, ReworkRefused, SignatureRefused, StepMissing
from kiosk.judge import HeatNote
from kiosk.pages.readings import AskedAgain, Countersign, Reading, SampleEnd
from kiosk.pages.station import Refusal
from kiosk.pages.words import KeyedAs, SampleKind, Source, Standing, Verdict
from kiosk.station import Entry, KeptReading, LookAgain, Paper
from tests.unit.kiosk import plant
from tests.unit.kiosk.plant import Post


def test_five_pieces_make_a_sample() -> None:
    """Pieces are numbered by themselves, and the end says complete."""
    post = Post().measuring()

    for keyed in (".3121", ".3122", ".3123", ".3122", ".3124"):
        post.kept("BC1", keyed)
    done = post.work.end_sample("BC1")

    assert [reading.piece for reading in post.pages(Reading)] == [1, 2, 3, 4, 5]
    end = post.pages(SampleEnd)[0]
    assert (end.sample, end.planned, end.got, done.say) == (1, 5, 5, ())


def test_a_page_holds_all_that_the_reading_stands_on() -> None:
    """Lot, part, revision, plan, gauge, master, what was keyed and what came of it."""
    post = Post("S24").measuring("BC4", person="P-102", operation="80", gauge="G-301", master="W-24")

    answer = post.kept("BC4", ".3198")

    reading = post.pages(Reading)[0]
    assert (reading.lot, reading.part, reading.revision, reading.plan_version) == ("L-411", "B-3124", "C", "C1")
    assert (reading.gauge, reading.master, reading.keyed, reading.unit) == ("G-301", "W-24", ".3198", "in")
    assert (reading.keyed_as, reading.value) == (KeyedAs.OVER_WIRES, "0.283704375")
    assert reading.computed_from == (
        "pitch diameter over wires, 60 degrees/1: M 0.3198, wires W-24 0.02406, pitch 1/24 in"
    )
    assert answer.page.lists_version == 7
    assert answer.page.lists_taken_at == post.taken_at


def test_a_figure_that_looks_wrong_is_asked_about_once_and_nothing_is_hinted() -> None:
    """3.122 for .3122: one sentence, no figure in it; the second keying is judged; both stay in the book."""
    post = Post().measuring()

    asked = post.asked("BC1", "3.122")
    answer = post.kept("BC1", ".3122")

    assert asked.say == ("Look again and key the whole reading.",)
    assert not any(digit in "".join(asked.say) for digit in "0123456789")
    assert set(LookAgain.model_fields) == {"say"}
    reading = post.pages(Reading)[0]
    assert [(k.text, k.asked) for k in reading.earlier] == [("3.122", ("X26",))]
    assert (answer.judged.verdict, answer.judged.standing, reading.piece) == (Verdict.IN, Standing.COUNTS, 1)
    assert len(post.pages(Reading)) == 1


def test_the_same_figure_again_is_believed_and_the_piece_is_tagged() -> None:
    """.3142 twice: out, a reject that counts; the station says what to do with the piece."""
    post = Post().measuring()
    post.asked("BC1", ".3142")

    answer = post.kept("BC1", ".3142")

    assert (answer.judged.verdict, answer.judged.standing) == (Verdict.OUT, Standing.COUNTS)
    assert answer.judged.reasons == ("X23", "X28")
    assert answer.say[0] == "STOP. Out of tolerance. Tag the piece, stop, call."
    assert ".3124" not in " ".join(answer.say)


def test_a_second_strange_figure_is_judged_and_not_asked_about_again() -> None:
    """Asked at most once a reading."""
    post = Post().measuring()
    post.asked("BC1", "3.122")

    assert post.kept("BC1", "31.22").judged.verdict is Verdict.OUT


def test_an_unanswered_question_stays_in_the_book_and_with_its_own_piece() -> None:
    """The sample was left; the next sample's first piece knows nothing of it."""
    post = Post().measuring()
    post.asked("BC1", "3.122")
    post.work.begin_sample("BC1", number=2)

    post.kept("BC1", ".3122")

    assert post.pages(AskedAgain)[0].keying.text == "3.122"
    assert post.pages(Reading)[0].earlier == ()


def test_keying_anew_keeps_both_and_flags_a_fail_that_became_a_pass() -> None:
    """.3128 kept as out, then .3123 on the same piece, unasked."""
    post = Post().measuring()
    first = post.kept("BC1", ".3128")

    answer = post.work.key_anew("BC1", 1, ".3123")

    assert isinstance(answer, KeptReading)
    assert (answer.judged.reasons, answer.judged.standing) == (("X31",), Standing.FLAGGED)
    assert post.pages(Reading)[1].replaces == first.page.number
    sample = post.work.state.sample_of("BC1")
    assert sample is not None and (sample.got, sample.next_piece) == (1, 2)


def test_keying_anew_works_only_inside_the_open_sample() -> None:
    """After the sample only a correction page helps, and the refusal says so."""
    post = Post().measuring()
    post.kept("BC1", ".3128")

    with pytest.raises(NotInSample, match="piece 2"):
        post.work.key_anew("BC1", 2, ".3123")
    post.work.end_sample("BC1")
    with pytest.raises(StepMissing):
        post.work.key_anew("BC1", 1, ".3123")

    assert "correction" in post.pages(Refusal)[0].next_step


def test_wiped_keyings_are_kept_with_the_reading() -> None:
    """What was wiped off the screen is not lost."""
    post = Post().measuring()

    post.work.key("BC1", ".3122", Entry(wiped=(".31", ".32")))

    assert [k.text for k in post.pages(Reading)[0].earlier] == [".31", ".32"]


def test_what_is_no_number_is_kept_as_refused_and_asked_for_again() -> None:
    """Nothing is guessed."""
    post = Post().measuring()

    with pytest.raises(NotANumber):
        post.work.key("BC1", ".31.22")

    assert post.pages(Refusal)[0].next_step == "Look again and key the whole reading."
    assert post.pages(Reading) == []


def test_deviation_in_divisions_from_the_master() -> None:
    """5 divisions of .00005 over a master of .31225 are .31250, the limit itself: in; 6 are .31255: out."""
    post = Post()
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")
    post.work.check_zero("G-220", "0")
    post.work.take_gauge("BC1", "G-220")
    post.work.begin_sample("BC1")

    five = post.work.key("BC1", "5", Entry(keyed_as=KeyedAs.DIVISIONS))
    six = post.work.key("BC1", "6", Entry(keyed_as=KeyedAs.DIVISIONS))
    four = post.work.key("BC1", "-4", Entry(keyed_as=KeyedAs.DIVISIONS))

    assert isinstance(five, KeptReading) and isinstance(six, KeptReading) and isinstance(four, KeptReading)
    assert (five.judged.value, five.judged.verdict) == ("0.31250", Verdict.IN)
    assert (six.judged.value, six.judged.verdict) == ("0.31255", Verdict.OUT)
    assert (four.judged.value, four.judged.verdict) == ("0.31205", Verdict.IN)
    assert ".31255" in " ".join(six.say)


def test_turns_and_accept_reject_are_keyed_as_such_by_themselves() -> None:
    """Three turns accept, three and a quarter reject; Accept is a word."""
    post = Post("S24")
    post.work.badge_in("P-102")
    post.work.open_job("L-411", "80")
    for characteristic, gauge in (("BC5", "G-502"), ("BC6", "G-503")):
        post.work.take_gauge(characteristic, gauge)
        post.work.begin_sample(characteristic)

    verdicts = [post.kept(c, keyed).judged.verdict for c, keyed in (("BC5", "Accept"), ("BC6", "3"), ("BC6", "3.25"))]

    assert verdicts == [Verdict.ACCEPT, Verdict.ACCEPT, Verdict.REJECT]


def test_a_runout_below_nothing_is_asked_for_again() -> None:
    """Full indicator movement has no minus."""
    post = Post("S31").measuring("NC1", person="P-103", lot="L-500", operation="30", gauge="G-415")

    with pytest.raises(NotANumber, match="below nothing"):
        post.work.key("NC1", "-.0020")


def test_characteristics_of_one_round_share_its_number() -> None:
    """BC1 and BC2 at 09:00 are round 1; at 09:30 round 2 begins with whichever comes first."""
    post = Post().measuring()
    post.kept("BC1", ".3122")
    post.work.take_gauge("BC2", "G-108")
    first = post.work.begin_sample("BC2")
    post.clock.to("2026-03-09 09:30:00")
    post.work.take_gauge("BC2", "G-108")
    second = post.work.begin_sample("BC2")

    assert (first.number, second.number) == (1, 2)


def test_a_sample_left_short_is_ended_when_the_next_begins() -> None:
    """3 of 5 stays 3 of 5, with the reason."""
    post = Post().measuring()
    for keyed in (".3121", ".3122", ".3123"):
        post.kept("BC1", keyed)

    begun = post.work.begin_sample("BC1")

    end = post.pages(SampleEnd)[0]
    assert (end.got, end.planned, end.why_short) == (3, 5, "the next sample was begun")
    assert (begun.number, begun.piece) == (2, 1)


def test_a_gauge_is_scanned_once_for_each_sample() -> None:
    """The gauge of the sample before is not carried into the next; one scanned since is."""
    post = Post().measuring()
    post.kept("BC1", ".3122")
    post.work.begin_sample("BC1")
    with pytest.raises(StepMissing, match="no gauge was scanned"):
        post.work.key("BC1", ".3122")

    post.work.take_gauge("BC1", "G-108")
    post.kept("BC1", ".3122")
    post.work.take_gauge("BC1", "G-107")
    post.work.begin_sample("BC1")

    assert post.kept("BC1", ".3122").page.act.gauge == "G-107"  # type: ignore[union-attr]


def test_a_blocked_reading_fills_no_place() -> None:
    """A gauge past due: five kept, none counts, and the end says so."""
    post = Post(at="2026-03-11 09:00:00").measuring("BC2", gauge="G-107")
    for _ in range(5):
        answer = post.kept("BC2", ".2840")
        post.clock.wait(20)

    done = post.work.end_sample("BC2")

    assert answer.judged.standing is Standing.BLOCKED
    assert answer.say[1] == "STOP. G-107 is past its due date. Readings with it do not count."
    assert done.say == ("5 of these readings do not count. Measure as many pieces again.",)


def test_a_gauge_that_went_out_at_midnight_is_told_before_the_next_sample() -> None:
    """Before the first piece, with the swap; and it may be used all the same."""
    post = Post(at="2026-03-10 23:50:00").measuring("BC2", gauge="G-107")
    post.clock.to("2026-03-11 00:00:00")

    begun = post.work.begin_sample("BC2")

    assert begun.say[0].startswith("STOP. G-107 is past its due date.")
    assert begun.say[-1] == "Swap: G-108 in drawer A-2."
    assert post.kept("BC2", ".2840").judged.reasons == ("X01",)


def test_first_pieces_show_no_verdict_until_all_are_in() -> None:
    """Limits, verdict and earlier values stay hidden for the inspector's own eyes."""
    post = Post("S24").measuring("BC4", person="P-104", operation="80", gauge="G-301", master="W-24")
    post.work.begin_sample("BC4", kind=SampleKind.FIRST)

    answers = [post.kept("BC4", ".3187") for _ in range(5)]

    assert [answer.is_blind for answer in answers] == [True, True, True, True, False]
    assert answers[0].say == ("Kept: 1 of 5.",)
    assert "Out of tolerance" in answers[4].say[0]


def test_a_trainer_countersigns_inside_the_sample() -> None:
    """Before it the trainee's readings are blocked; after it they count under both names."""
    post = Post("S24").measuring("BC4", person="P-103", operation="80", gauge="G-301", master="W-24")
    alone = post.kept("BC4", ".3198")
    post.work.countersign("BC4", "B-102")
    together = post.kept("BC4", ".3197")

    assert "X65" in alone.judged.reasons and "X65" not in together.judged.reasons
    assert post.pages(Countersign)[0].trainee == "P-103"
    assert [page.person for page in post.book.pages if isinstance(page.act, Countersign)] == ["P-102"]


def test_a_countersign_by_oneself_by_no_trainer_or_after_the_sample_is_refused() -> None:
    """Nothing good works backwards."""
    post = Post("S24").measuring("BC4", person="P-103", operation="80", gauge="G-301", master="W-24")
    for badge in ("P-103", "P-107"):
        with pytest.raises(SignatureRefused):
            post.work.countersign("BC4", badge)
    post.kept("BC4", ".3198")
    post.work.end_sample("BC4")

    with pytest.raises(NotInSample):
        post.work.countersign("BC4", "P-102")


def test_paper_is_keyed_by_one_and_read_back_by_another() -> None:
    """7.93 on a form is never asked about and never converted; gauges are judged at the hour on the form."""
    post = Post(at="2026-03-11 02:00:00").measuring("BC2", gauge="G-107")
    paper = Paper(form="F-12", taken_at="2026-03-10T23:00:00.000-04:00", taken_by="P-101", read_back_by="P-102")
    entry = Entry(source=Source.PAPER, paper=paper)

    fine = post.work.key("BC2", ".2840", entry)
    slip = post.work.key("BC2", "7.21", entry)

    assert isinstance(fine, KeptReading) and isinstance(slip, KeptReading)
    assert fine.judged.reasons == ("X02", "X78")
    assert (slip.judged.verdict, slip.judged.value) == (Verdict.NOT_JUDGED, "7.21")
    assert {"X27", "X78"} <= set(slip.judged.reasons)
    reading = post.pages(Reading)[0]
    assert (reading.paper_form, reading.taken_by, reading.read_back_by) == ("F-12", "P-101", "P-102")


def test_a_form_read_back_by_the_one_who_keys_it_is_refused() -> None:
    """Two persons, two pairs of eyes."""
    post = Post().measuring()
    paper = Paper(form="F-12", taken_at=post.taken_at, taken_by="P-102", read_back_by="P-101")

    with pytest.raises(BadgeRefused, match="same person"):
        post.work.key("BC1", ".3122", Entry(source=Source.PAPER, paper=paper))


def test_an_old_form_keyed_by_one_person_alone_says_what_is_still_wanted() -> None:
    """Kept all the same: 24 h and a second person are wanted, not demanded."""
    post = Post(at="2026-03-10 09:00:01").measuring()
    paper = Paper(form="F-12", taken_at="2026-03-09T09:00:00.000-04:00", taken_by="P-102")

    answer = post.work.key("BC1", ".3122", Entry(paper=paper))

    assert isinstance(answer, KeptReading)
    assert answer.say[-2:] == (
        "This form is more than 24 h old. Tell the lead.",
        "Somebody else still has to read this back against the form.",
    )
    assert post.pages(Reading)[0].source is Source.PAPER


def test_a_piece_keyed_anew_may_be_asked_about_too() -> None:
    """The question comes before it is kept; the answer takes the place of the first keying."""
    post = Post().measuring()
    first = post.kept("BC1", ".3124")

    asked = post.work.key_anew("BC1", 1, "3.122")
    answer = post.work.key_anew("BC1", 1, ".3122")

    assert isinstance(asked, LookAgain) and isinstance(answer, KeptReading)
    assert (answer.judged.reasons, post.pages(Reading)[-1].replaces) == (("X26",), first.page.number)


def test_lot_acceptance_asks_for_its_own_number_of_pieces() -> None:
    """The plan's acceptance number, not the running sample's."""
    rows = [c.model_copy(update={"acceptance_n": 13}) for c in plant.LISTS.characteristics]
    post = Post(lists=plant.lists_with(characteristics=rows)).measuring()

    assert post.work.begin_sample("BC1", kind=SampleKind.ACCEPTANCE).planned == 13


def test_a_reading_that_cannot_be_judged_says_so_and_stops() -> None:
    """A word that is no verdict."""
    post = Post("S24").measuring("BC5", person="P-102", operation="80", gauge="G-502")

    assert post.kept("BC5", "perhaps").say[0] == "STOP. Kept: perhaps. Not judged. QC looks at it."


def test_a_runout_that_is_no_number_is_asked_for_again() -> None:
    """Before its sign is looked at."""
    post = Post("S31").measuring("NC1", person="P-103", lot="L-500", operation="30", gauge="G-415")

    with pytest.raises(NotANumber):
        post.work.key("NC1", ".0.2")
    assert post.kept("NC1", ".0028").judged.verdict is Verdict.IN


def test_a_visual_characteristic_needs_no_gauge() -> None:
    """Eyes only."""
    rows = [
        c.model_copy(update={"kind": "visual", "gauge_kinds": ()}) if c.number == "BC5" else c
        for c in plant.LISTS.characteristics
    ]
    post = Post("S24", lists=plant.lists_with(characteristics=rows))
    post.work.badge_in("P-102")
    post.work.open_job("L-411", "80")

    begun = post.work.begin_sample("BC5")

    assert begun.say == ()
    assert post.kept("BC5", "Reject").judged.verdict is Verdict.REJECT


def test_a_value_from_an_instrument_is_kept_as_received_and_never_asked_about() -> None:
    """The instrument cannot look again."""
    post = Post().measuring()

    answer = post.work.key("BC1", "+003.1220", Entry(source=Source.INSTRUMENT))

    assert isinstance(answer, KeptReading)
    assert post.pages(Reading)[0].keyed == "+003.1220"
    assert (answer.judged.verdict, answer.judged.standing) == (Verdict.NOT_JUDGED, Standing.BLOCKED)


def test_a_tapped_reading_twice_at_once_is_kept_and_blocked() -> None:
    """Same piece and value within 3 s; after 4 s it is a second measurement of the piece."""
    post = Post().measuring()
    post.kept("BC1", ".3122")
    post.clock.wait(2)
    twice = post.work.key("BC1", ".3122", Entry(piece=1))
    post.clock.wait(4)
    later = post.work.key("BC1", ".3122", Entry(piece=1))

    assert isinstance(twice, KeptReading) and isinstance(later, KeptReading)
    assert (twice.judged.reasons, twice.judged.standing) == (("X33",), Standing.BLOCKED)
    assert later.judged.reasons == ()


def test_a_rolled_thread_is_not_checked_again_after_work_on_it() -> None:
    """Refused at the station; if it comes anyway it is blocked."""
    post = Post("S24")
    post.work.badge_in("P-102")
    post.work.open_job("L-411", "80")
    post.work.take_gauge("BC5", "G-502")

    with pytest.raises(ReworkRefused) as told:
        post.work.begin_sample("BC5", kind=SampleKind.RE_WORK)
    post.work.begin_sample("BC5", kind=SampleKind.RE_WORK, measured_anyway=True)

    assert "rework" not in str(told.value).lower() and "repair" not in str(told.value).lower()
    assert post.kept("BC5", "Accept").judged.standing is Standing.BLOCKED


def test_a_piece_out_of_heat_is_measured_cold() -> None:
    """20 min by the clock is too soon; a thermometer says otherwise."""
    from kiosk.pages.station import SetUpStart

    post = Post("S24").measuring("BC4", person="P-107", operation="80", gauge="G-301", master="W-24")
    post.work.begin_set_up(
        SetUpStart(set_up="SU-1", lot="L-411", part="B-3124", revision="C", operation="80", set_by="P-107", is_hot=True)
    )
    post.work.begin_sample("BC4", kind=SampleKind.SET_UP)
    post.work.out_of_heat()
    post.clock.wait(20 * 60)
    post.work.take_gauge("BC4", "G-301", master="W-24")

    soon = post.kept("BC4", ".3198")
    cold = post.work.key("BC4", ".3198", Entry(heat=HeatNote.model_validate({"part": "76", "gauge": "72"})))

    assert isinstance(cold, KeptReading)
    assert soon.judged.reasons == ("X58",)
    assert cold.judged.reasons == ()
    assert post.pages(Reading)[1].part_temperature == "76"


def test_a_re_measure_names_the_page_and_asks_for_one_piece() -> None:
    """The old value is nowhere in it."""
    post = Post()
    post.work.badge_in("P-104")
    post.work.open_job("L-411", "60")
    post.work.take_gauge("BC2", "G-108")

    begun = post.work.begin_sample("BC2", kind=SampleKind.RE_MEASURE, re_measure_of="S12-a/5")
    post.work.key("BC2", ".2843", Entry(piece=3))

    assert begun.planned == 1
    reading = post.pages(Reading)[0]
    assert (reading.re_measure_of, reading.piece, reading.sample_kind) == ("S12-a/5", 3, SampleKind.RE_MEASURE)
