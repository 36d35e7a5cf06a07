"""The public command `quietleaf hear`, run in this process."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

import pytest

from quietleaf.cli.main import main


def heard(capsys: pytest.CaptureFixture[str], *files: Path) -> list[dict[str, Any]]:
    """Hear files with ``--json``; give each one's line."""
    capsys.readouterr()
    code = main(["hear", "--json", *map(str, files)])
    told = capsys.readouterr()
    assert code == 0, told.err
    return [json.loads(line, parse_constant=_no_constant) for line in told.out.splitlines()]


def curve(file: Path, into: Path) -> list[tuple[float, float, float]]:
    """Hear a file with ``--curve``; give time, momentary and short-term loudness of each row."""
    assert main(["hear", str(file), "--curve", str(into)]) == 0
    with into.open(newline="") as rows:
        return [
            (float(row["time_s"]), _number(row["momentary_lufs"]), _number(row["short_term_lufs"]))
            for row in csv.DictReader(rows)
        ]


def _number(field: str) -> float:
    return float(field) if field else -math.inf


def _no_constant(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")
