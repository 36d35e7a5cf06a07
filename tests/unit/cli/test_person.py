"""`quietleaf person`: an export is a file, an erasure tells what still has the name."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.cli.main import main
from tests.finished import FACTS, bring_reading, example_station


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Give a station with a reading and nothing to come."""
    data = tmp_path / "station"
    made = example_station(data)
    with made.database:
        bring_reading(made, FACTS)
        made.database.change_station(lambda of: replace(of, assignments=()))
    return data


def test_a_person_is_exported_and_erased(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "ada.json"
    asked = ["person", "export", "Imke Rowan", "--data", str(data), "--out", str(out)]
    assert main(asked) == 0
    assert json.loads(out.read_text(encoding="utf-8"))["name"] == "Imke Rowan"
    assert main(asked) == 2  # nothing is written over
    assert main(["person", "export", "Imke Rowan", "--data", str(data)]) == 2
    assert "--out FILE" in capsys.readouterr().err
    assert main(["person", "erase", "Nobody", "--data", str(data)]) == 2


def test_an_erasure_names_the_folders(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["person", "erase", "Ada Fenwick", "--data", str(data)]) == 0
    said = capsys.readouterr().out
    assert "Ada Fenwick is erased." in said
    assert "readings/marrowby-in-five/2026-11-25-k3f9" in said
    assert "audit list" in said
