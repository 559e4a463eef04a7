"""Signatures are bound to what was shown and to their place; a second signer is another who may, and has seen it."""

from dataclasses import replace

import pytest

from consolidator.authority import Deed
from consolidator.desk.desk import Second
from consolidator.desk.seconds import second_sign
from consolidator.desk.signatures import Seen, Signer
from consolidator.errors import DeskRefused, PinRefused
from kiosk.pages import Page, canonical_bytes, fingerprint, is_bound
from kiosk.pages.desk import PagesLost, SecondSignature
from kiosk.pages.station import Remark
from kiosk.pages.words import Meaning
from tests.unit.consolidator.desk.small_desk import SmallDesk


def _proposal(small: SmallDesk, person: str = "P-104") -> Page:
    """Keep a signed declaration that waits for a second person."""
    who = small.desk.identified(Deed.DECLARE_LOST, small.by(person))
    act = PagesLost(series="S12-a", first=8, last=9, reason="the panel burnt out")
    return small.desk.keep_signed(act, who, "I declare pages 8 to 9 of S12-a lost.", Meaning.DECLARED)


def test_signature_says_sentence_name_role_time_and_meaning(small: SmallDesk) -> None:
    """Everything a signature must print stands in it."""
    page = _proposal(small)

    signature = page.act.signature  # type: ignore[union-attr]

    assert signature is not None
    assert (signature.person, signature.name, signature.role) == ("P-104", "Dee", "disposition authority")
    assert (signature.sentence, signature.meaning) == ("I declare pages 8 to 9 of S12-a lost.", Meaning.DECLARED)
    assert signature.at == "2026-03-16T09:00:00.000-04:00"


def test_signature_belongs_to_its_page_and_to_no_other_even_of_the_same_act(small: SmallDesk) -> None:
    """A signature cannot be moved to another record, not even to one that says the same."""
    first, second = _proposal(small), _proposal(small)
    signature = first.act.signature  # type: ignore[union-attr]
    moved = second.model_copy(update={"act": second.act.model_copy(update={"signature": signature})})
    changed = first.model_copy(update={"act": first.act.model_copy(update={"last": 90})})

    assert signature is not None
    assert is_bound(signature, small.content(first))
    assert not is_bound(signature, small.content(second))
    assert not is_bound(signature, canonical_bytes(moved))
    assert not is_bound(signature, canonical_bytes(changed))


def test_second_signature_is_bound_to_the_bytes_of_the_page_it_signs(small: SmallDesk) -> None:
    """It names the fingerprint (SHA-256) of exactly those bytes."""
    proposal = _proposal(small)

    page = second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref)).page

    assert isinstance(page.act, SecondSignature) and page.act.signature is not None
    assert page.act.signature.of == fingerprint(small.content(proposal))
    assert is_bound(page.act.signature, small.content(proposal))
    assert not is_bound(page.act.signature, small.content(page))


@pytest.mark.parametrize("badge", ["P-104", "B-104"])
def test_the_proposer_cannot_sign_second_by_any_badge(small: SmallDesk, badge: str) -> None:
    """X69: a different person, whatever badge is scanned."""
    proposal = _proposal(small)
    seen = Seen(small.desk.evidence(proposal.ref).fingerprint, True)

    with pytest.raises(DeskRefused, match="X69") as refused:
        second_sign(small.desk, proposal.ref, Second(Signer(badge, small.by("P-104").pin), seen))

    assert refused.value.by_rule == "X69"
    assert small.refusals()[-1].by_rule == "X69"
    assert small.desk.acts_of(SecondSignature) == []


def test_person_without_authority_cannot_sign_second(small: SmallDesk) -> None:
    """X69: the qualification is looked up at that minute."""
    proposal = _proposal(small)

    with pytest.raises(DeskRefused, match="not authorised"):
        second_sign(small.desk, proposal.ref, small.second("P-101", proposal.ref))


def test_authority_that_lapsed_yesterday_does_not_sign_today(small: SmallDesk) -> None:
    """A qualification is valid to the end of its until-date and no minute longer."""
    small.to("2030-12-31 23:50")
    proposal = _proposal(small)
    small.to("2031-01-01 00:00")

    with pytest.raises(DeskRefused, match="not authorised"):
        second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref))


def test_signing_twice_is_refused_and_changes_nothing(small: SmallDesk) -> None:
    """The same second person does not count as a third."""
    proposal = _proposal(small)
    second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref))

    with pytest.raises(DeskRefused, match="already"):
        second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref))

    assert len(small.desk.acts_of(SecondSignature)) == 1


def test_wrong_pin_of_the_second_person_is_refused_and_kept(small: SmallDesk) -> None:
    """Own badge and own PIN."""
    proposal = _proposal(small)

    with pytest.raises(PinRefused):
        second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref, pin=small.by("P-104").pin))

    assert "PIN" in small.refusals()[-1].what


def test_evidence_not_seen_to_its_end_is_not_signed(small: SmallDesk) -> None:
    """The second signer must have come to the end of the evidence."""
    proposal = _proposal(small)
    second = small.second("P-108", proposal.ref)

    with pytest.raises(DeskRefused, match="to its end"):
        second_sign(small.desk, proposal.ref, replace(second, seen=replace(second.seen, to_its_end=False)))


def test_record_changed_since_it_was_shown_is_not_signed(small: SmallDesk) -> None:
    """A remark on the page after it was shown makes the signer look again."""
    proposal = _proposal(small)
    second = small.second("P-108", proposal.ref)
    small.keep(Remark(about=proposal.ref, words="two of them turned up on a stick"))

    with pytest.raises(DeskRefused, match="changed since it was shown"):
        second_sign(small.desk, proposal.ref, second)
    second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref))


def test_second_signature_with_the_clock_set_back_is_refused_as_back_dated(small: SmallDesk) -> None:
    """Nothing is signed before it was proposed."""
    proposal = _proposal(small)
    small.to("2026-03-16 08:59")

    with pytest.raises(DeskRefused, match="dated before"):
        second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref))


def test_page_that_takes_no_second_signature_is_refused(small: SmallDesk) -> None:
    """Only proposals of the two-person rule are signed by two."""
    page = small.read("0.31225")

    with pytest.raises(DeskRefused, match="takes none"):
        second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def test_badge_of_a_leaver_and_of_nobody_signs_nothing(small: SmallDesk) -> None:
    """A badge that is alive somewhere else is not taken here."""
    for badge in ("B-999", ""):
        with pytest.raises(DeskRefused, match="Nobody"):
            small.desk.identified(Deed.DECLARE_LOST, Signer(badge, "481516"))
