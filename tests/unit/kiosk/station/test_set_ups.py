"""Set-ups and first pieces: an approval works forwards only, and only from somebody else."""

import pytest

from kiosk.errors import SignatureRefused, StepMissing
from kiosk.pages.readings import Reading
from kiosk.pages.station import FirstPieceApproval, SetUpChange, SetUpEnd, SetUpStart
from kiosk.pages.words import SampleKind, Standing
from tests.unit.kiosk.plant import Post


def rolling(at: str = "2026-03-13 06:20:00") -> Post:
    """Set-up SU-31 begun by P-107, P-102 at the machine with gauge and sample."""
    post = Post("S24", at=at)
    post.work.badge_in("P-107")
    post.work.open_job("L-411", "80")
    post.work.begin_set_up(
        SetUpStart(set_up="SU-31", lot="L-411", part="B-3124", revision="C", operation="80", set_by="P-107")
    )
    return post


def run(post: Post, person: str = "P-102") -> tuple[str, ...]:
    """One run reading by a person; its reasons."""
    post.clock.wait(60)
    post.work.badge_in(person)
    post.work.take_gauge("BC4", "G-301", master="W-24")
    post.work.begin_sample("BC4")
    return post.kept("BC4", ".3198").judged.reasons


def test_run_readings_count_only_after_the_first_piece_is_approved() -> None:
    """Before: blocked; after: counts; the earlier one stays as it was."""
    post = rolling()
    early = run(post)
    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)
    late = run(post)

    assert (early, late) == (("X53",), ())
    assert [reading.standing for reading in post.pages(Reading)] == [Standing.BLOCKED, Standing.COUNTS]
    assert {reading.set_up for reading in post.pages(Reading)} == {"SU-31"}


@pytest.mark.parametrize("approver", ["P-107", "P-102", "P-103"])
def test_an_approval_by_setter_operator_or_unqualified_person_is_kept_and_void(approver: str) -> None:
    """P-107 set it up, P-102 runs it, P-103 approves nothing: kept for close of day, told, without effect."""
    post = rolling()
    run(post)

    done = post.work.approve_first_piece("SU-31", approver, is_approved=True)

    assert done.say[0].startswith("STOP.") and "Call an inspector." in done.say[0]
    assert post.pages(FirstPieceApproval)[0].result == "Approved"
    assert run(post) == ("X53",)


def test_an_approval_names_the_first_pieces_measured() -> None:
    """The pages of the pieces the inspector measured stand in it."""
    post = rolling()
    post.work.badge_in("P-104")
    post.work.take_gauge("BC4", "G-301", master="W-24")
    post.work.begin_sample("BC4", kind=SampleKind.FIRST)
    first = post.kept("BC4", ".3198")

    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)

    assert post.pages(FirstPieceApproval)[0].readings == (first.page.ref,)


def test_a_refused_first_piece_approves_nothing() -> None:
    """The run stays blocked."""
    post = rolling()

    post.work.approve_first_piece("SU-31", "P-104", is_approved=False, conditions="runout high")

    assert run(post) == ("X53",)


def test_a_touched_set_up_needs_a_new_approval() -> None:
    """Only a touch-up ends it too."""
    post = rolling()
    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)
    approved = run(post)
    post.work.change_set_up(SetUpChange(set_up="SU-31", what="re-set"))

    assert (approved, run(post)) == ((), ("X53",))


def test_an_ended_set_up_carries_over_to_nothing() -> None:
    """After its end there is no set-up and no approval."""
    post = rolling()
    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)
    post.work.end_set_up(SetUpEnd(set_up="SU-31", pieces_run=900))

    assert run(post) == ("X53",)
    assert post.work.state.set_ups == ()


def test_lists_older_than_seven_days_refuse_the_signature_and_no_reading() -> None:
    """At seven days to the minute it is taken; a minute later refused; readings go on."""
    post = rolling()
    post.clock.to("2026-03-20 06:20:00")
    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)
    post.clock.to("2026-03-20 06:21:00")

    with pytest.raises(SignatureRefused, match="older than seven days"):
        post.work.approve_first_piece("SU-31", "P-104", is_approved=True)

    assert run(post) == ("X75",)


def test_an_unknown_set_up_is_not_approved() -> None:
    """An approval belongs to one set-up that is open here."""
    with pytest.raises(StepMissing, match="SU-99"):
        rolling().work.approve_first_piece("SU-99", "P-104", is_approved=True)


def test_a_change_between_hot_and_cold_turns_the_rule_for_hot_parts_on() -> None:
    """Cold set-up turned hot: a piece without a heat note is flagged; turned back: not."""
    post = rolling()
    post.work.approve_first_piece("SU-31", "P-104", is_approved=True)
    found = []
    for _ in range(2):
        post.work.change_set_up(SetUpChange(set_up="SU-31", what="hot or cold"))
        found.append(run(post))

    assert found == [("X53", "X59"), ("X53",)]
