"""The demo makes its folder anew and touches nobody else's."""

from pathlib import Path

import pytest

from demo_site.show import MARK, main


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing that the demo did not make is ever removed."""
    kept = tmp_path / "mine.txt"
    kept.write_text("mine", encoding="utf-8")

    code = main(["--quick", "--no-serve", "--folder", str(tmp_path)])

    assert code == 2
    assert kept.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / MARK).exists()
    assert "Name an empty folder" in capsys.readouterr().err
