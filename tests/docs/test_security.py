"""The table of security leaves no requirement out, and names tests that are there."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs/security.md").read_text(encoding="utf-8")
STATES = ("held", "partly", "not", "none")
LEVELS_1_AND_2 = {
    "1.1": "1-2",
    "1.2": "1-9",
    "1.3": "1-11",
    "1.4": "1-3",
    "1.5": "1-2",
    "2.1": "1-3",
    "2.2": "1-3",
    "2.3": "1-4",
    "2.4": "1",
    "3.2": "1-2",
    "3.3": "1-4",
    "3.4": "1-6",
    "3.5": "1-5",
    "3.7": "1-2",
    "4.1": "1-3",
    "4.2": "1",
    "4.3": "1-2",
    "4.4": "1-4",
    "5.1": "1",
    "5.2": "1-3",
    "5.3": "1-2",
    "5.4": "1-3",
    "6.1": "1-3",
    "6.2": "1-12",
    "6.3": "1-4",
    "6.4": "1-4",
    "6.5": "1-5",
    "6.6": "1-3",
    "6.8": "1-4",
    "7.1": "1-3",
    "7.2": "1-4",
    "7.3": "1-2",
    "7.4": "1-5",
    "7.5": "1-2",
    "7.6": "1-2",
    "8.1": "1-2",
    "8.2": "1-3",
    "8.3": "1",
    "8.4": "1",
    "9.1": "1-3",
    "9.2": "1-4",
    "10.1": "1-2",
    "10.2": "1-2",
    "10.3": "1-4",
    "10.4": "1-11",
    "10.5": "1-5",
    "10.6": "1-2",
    "10.7": "1-3",
    "11.1": "1-2",
    "11.2": "1-3",
    "11.3": "1-3",
    "11.4": "1-4",
    "11.5": "1",
    "11.6": "1",
    "12.1": "1-3",
    "12.2": "1-2",
    "12.3": "1-4",
    "13.1": "1",
    "13.2": "1-5",
    "13.3": "1-2",
    "13.4": "1-5",
    "14.1": "1-2",
    "14.2": "1-4",
    "14.3": "1-3",
    "15.1": "1-3",
    "15.2": "1-3",
    "15.3": "1-7",
    "16.1": "1",
    "16.2": "1-5",
    "16.3": "1-4",
    "16.4": "1-3",
    "16.5": "1-3",
    "17.1": "1",
    "17.2": "1-4",
    "17.3": "1-2",
}
"""The numbers of OWASP ASVS 5.0.0 whose level is 1 or 2, section by section."""


def wanted() -> set[str]:
    numbers = set()
    for section, span in LEVELS_1_AND_2.items():
        first, _, last = span.partition("-")
        numbers |= {f"{section}.{n}" for n in range(int(first), int(last or first) + 1)}
    return numbers


def rows() -> list[list[str]]:
    """Give the cells of each row of requirements."""
    found = [line.strip("| ").split(" | ") for line in TEXT.splitlines() if line.startswith("| ")]
    return [cells for cells in found if re.match(r"\d+\.\d+\.\d+", cells[0])]


def test_every_requirement_of_both_levels_is_there_once() -> None:
    assert len(wanted()) == 253
    named = Counter(number for cells in rows() for number in cells[0].split(", "))
    assert set(named) == wanted()
    assert set(named.values()) == {1}


def test_every_row_says_how_it_stands() -> None:
    for cells in rows():
        assert cells[1] in STATES, cells
        assert len(cells) >= 3, cells
        assert cells[2].strip(), cells


def test_every_test_that_is_named_is_there() -> None:
    named = set(re.findall(r"\b((?:\w+/)+test_\w+\.py)(?:::(test_\w+))?", TEXT))
    assert len(named) > 60
    for file, test in named:
        path = ROOT / "tests" / file
        assert path.is_file(), file
        assert not test or re.search(rf"^def {test}\(", path.read_text("utf-8"), re.M), (file, test)
