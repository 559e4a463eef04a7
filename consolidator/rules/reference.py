"""Makes docs/reference/exceptions.md from the kinds' own data: `python -m consolidator.rules.reference`."""

from pathlib import Path
from typing import Final

from consolidator.rules import JUDGED
from consolidator.rules.kinds import BY_LOOK_BACK, KINDS, Hold, Kind

DOCUMENT: Final = Path(__file__).resolve().parents[2] / "docs" / "reference" / "exceptions.md"

_HEAD: Final = """# Exception kinds

Made by `python -m consolidator.rules.reference` from `consolidator/rules/kinds.py`; do not edit by hand.

Urgency: **A** stop and segregate, act within 1 hour of the list; **B** before the lot moves to the next operation;
**C** today; **D** for the record.
Standing is what the kind does to a reading; the worst of all kinds that match wins.
Hold is whether the lot is held until a disposition or a lift says so.
Who acts: Op operator, Lead shift lead, QC inspector or quality engineer, Cal calibration technician,
QM quality manager, Eng quality or process engineering.
Sees whole: what the kind's function must be given undivided; a night may be cut along anything else.
Looked for: no means that close of day of this version does not look for the kind yet.

| No. | Plain name | Standing | Hold | Urgency | Who acts | What closes it | When it differs | Grouped by | Sees whole | Looked for |
|---|---|---|---|---|---|---|---|---|---|---|
"""  # noqa: E501


def document() -> str:
    """Return the whole document."""
    return _HEAD + "\n".join(_row(kind) for kind in KINDS.values()) + "\n"


def _row(kind: Kind) -> str:
    hold = {Hold.NO: "–", Hold.YES: "yes", Hold.WHEN: "in some cases"}[kind.hold]
    cells = (
        kind.number,
        kind.name,
        kind.effect.words or "–",
        hold,
        kind.urgency,
        kind.who,
        kind.closes,
        kind.note or "–",
        str(kind.family),
        kind.partition,
        "yes" if kind.number in JUDGED | BY_LOOK_BACK else "no",
    )
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Write the document."""
    DOCUMENT.parent.mkdir(parents=True, exist_ok=True)
    DOCUMENT.write_text(document(), encoding="utf-8")


if __name__ == "__main__":
    main()
