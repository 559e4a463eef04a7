"""A day of four hundred readings leaves the station no larger than its first hundred did."""

from kiosk.pages.readings import Reading
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring


def measured(at: AtAScreen, samples: int) -> int:
    """Measure samples of five and end each; return how large what the station remembers is, in characters."""
    for _ in range(samples):
        for figure in ("2-", "1+", "0", "3-", "5+"):
            at.post.clock.wait(20)
            at.key(figure)
        at.pick("End the sample", "BC1").scan("G-220")
        at.steps.home()
        at.pick("BC1")
    return len(repr(at.post.work.state))


def test_four_hundred_readings_leave_the_state_as_small_as_a_hundred_did() -> None:
    """Counted in characters of everything the station remembers, which neither clock nor machine can sway."""
    at = measuring().pick("BC1").scan("G-220").pick("Check G-220 now").key("0")

    small = measured(at, 20)
    large = measured(at, 60)

    assert len(at.post.pages(Reading)) == 400
    assert large < 1.02 * small
