"""The made night of the benchmarks is made of true pages."""

from pathlib import Path

from consolidator.intake import Archive, Intake
from kiosk.carry import read_packet
from kiosk.pages import read_page
from tests.benchmarks.made_packets import DAY, made_lists, made_packets, received_at
from tests.unit.carried import make_plant


def test_a_made_night_is_taken_in_without_a_fault_and_its_lists_know_everything_in_it(tmp_path: Path) -> None:
    """A benchmark on pages that no kiosk could have kept would measure nothing."""
    plant = make_plant(tmp_path / "plant")
    lists = made_lists(plant, kiosks=3, readings=1_300)
    made = list(made_packets(plant, tmp_path / "kiosks", readings=1_300, kiosks=3))
    with Intake(plant, now=lambda: received_at(plant)) as intake:
        for each in made:
            intake.take_in(each.raw)
        held = Archive(plant, intake).held(DAY, by_utc=received_at(plant))

    assert held.readings.num_rows == 1_300
    assert len(held.acts) == 9
    assert (held.altered, held.conflicts, held.unknown) == ((), (), ())
    assert set(held.readings["lot"].unique().to_pylist()) <= {lot.number for lot in lists.lots}
    assert set(held.readings["gauge"].unique().to_pylist()) <= {gauge.number for gauge in lists.gauges}
    assert set(held.readings["person"].unique().to_pylist()) <= {person.number for person in lists.people}
    for raw in read_packet(made[0].raw).pages:
        read_page(raw)
