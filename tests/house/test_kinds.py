"""Every exception kind has its function and a unit test that names it."""

from tests.kinds.table import PLANTED, kinds_shown, not_built


def test_every_kind_has_what_finds_and_what_shows_it() -> None:
    """Nothing in the table of 84 is a name alone, but for what is written down as not built yet."""
    shown = kinds_shown()

    assert len(shown) == 84
    assert {kind.number: kind.lacks for kind in shown if kind.lacks and kind.number not in not_built()} == {}
    # A planted fault is named after the kind that it says must be found.
    assert {path.stem for path in PLANTED.glob("*.yaml")} == {name for kind in shown for name in kind.planted}
