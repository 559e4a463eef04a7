"""Makes docs/reference/desk.md from the tables the desk refuses by: `python -m consolidator.qc_room.reference`."""

from pathlib import Path
from typing import Final

from consolidator.authority import AUTHORITIES, Authority
from consolidator.qc_room.cautions import CAUTIONS
from consolidator.qc_room.choices import Offer, PlanAllows, Problem, choices_for
from consolidator.qc_room.exceptions import BY_ITSELF, EVIDENCE, closers_of
from consolidator.rules import KINDS
from kiosk.lists import Characteristic
from kiosk.lists.words import CharacteristicKind, Feature, Level
from kiosk.pages.words import Choice

DOCUMENT: Final = Path(__file__).resolve().parents[2] / "docs" / "reference" / "desk.md"

_HEAD: Final = """# The desk

Made by `python -m consolidator.qc_room.reference` from the tables the desk refuses by; do not edit by hand.

The QC room, the calibration room and the quality manager work at the desk.
Each act is a page of the desk's own book, and so is each refusal, with what was refused, why, and the next step.

## Signatures

A signature is badge and PIN under a sentence: name, role, time with its offset, meaning, and the fingerprint of what was signed.
Under the act's own page that is SHA-256 over the act without its signature and the fingerprint of the page before (RFC 8785), so that it fits one act at one place of the book only.
A second signature holds the fingerprint of the page it signs; a seal that of its ledger.

A second signer is a different person, whatever the badge, with his own PIN, authorised for that act at that minute.
He did not enter the proposal, took none of the readings it is about, and has seen the evidence to its end as it stands when he signs.
The evidence is the proposal, the pages it names, the pages that name them, and readings that measure the piece again; one more of these, and it must be seen anew.
Anything else is X69, and nothing works before the second signature.

Three wrong PINs in a row lock a PIN; a shift lead or the quality manager unlocks it: [set a PIN](../how-to/set-a-pin.md).

## Who may do what

Qualifications of the list count for their operation; where an act is about no operation, only those for all operations do.
"""  # noqa: E501

_CHOICES: Final = """
## Legal choices, by what is wrong

Nothing else is offered or accepted, whatever sends it.
Pieces known to be bad are neither sorted nor measured again.
Readings with evidence problems only (those that may be released) are measured again or released by two; the pieces are not touched.
The quality manager alone may turn to the organisation responsible for the design, whatever it is of.

| what | choices |
|---|---|
"""  # noqa: E501

_CLOSING: Final = """
## Who closes which exception

| No. | who signs | what must be named |
|---|---|---|
"""


def document() -> str:
    """Return the whole document."""
    deeds = "\n".join(_deed(row) for row in AUTHORITIES.values())
    choices = "\n".join(f"| {feature.value} | {_offers(feature)} |" for feature in Feature)
    closers = "\n".join(_closer(number) for number in KINDS)
    told = "\n".join(f"{number}. {words}" for number, words in sorted(CAUTIONS.items()))
    head = "| act | first | second | when a second is needed | meaning |\n|---|---|---|---|---|\n"
    return (
        f"{_HEAD}\n{head}{deeds}\n{_CHOICES}{choices}\n{_CLOSING}{closers}\n"
        f"\n## Cautions\n\nShown each time beside what they belong to.\n\n{told}\n"
    )


def main() -> None:
    """Write the document."""
    DOCUMENT.write_text(document(), encoding="utf-8")


def _deed(row: Authority) -> str:
    cells = (
        row.deed.value,
        _levels(row.first) or "everybody of the plant",
        _levels(row.second) or "–",
        row.second_when or "never",
        row.meaning.value,
    )
    return f"| {' | '.join(cells)} |"


def _levels(levels: tuple[Level, ...]) -> str:
    return ", ".join(levels)


def _offers(feature: Feature) -> str:
    characteristic = Characteristic(
        part="P", revision="A", number="1", name="any", operation="1", kind=CharacteristicKind.VISUAL, feature=feature,
        unit="none",
    )  # fmt: skip
    plan = PlanAllows(True, True, "…", "the rule of the specification")
    problem = Problem(("X23",), is_oversize=True, is_before_rolling=True)
    return "; ".join(_offer(offer) for offer in choices_for(characteristic, problem, plan))


def _offer(offer: Offer) -> str:
    two = ", two signatures" if offer.needs_two else ""
    when = ", where the plan allows it" if offer.choice is Choice.REWORK else ""
    note = f" ({offer.note}{when}{two})" if offer.note else two
    caution = f" [{', '.join(map(str, offer.cautions))}]" if offer.cautions else ""
    return f"{offer.choice.value}{note}{caution}"


def _closer(number: str) -> str:
    pages = " or ".join(str(act.model_fields["kind"].default) for act in EVIDENCE.get(number, ()))
    if number in BY_ITSELF:
        told = f"closes by itself when {BY_ITSELF[number]}" + (f"; by hand only with: {pages}" if pages else "")
    else:
        told = f"page of a {pages}" if pages else "a reason"
    return f"| {number} | {_levels(closers_of(KINDS[number]))} | {told} |"


if __name__ == "__main__":
    main()
