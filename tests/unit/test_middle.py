"""The middle rooms are pure: what the import contract cannot see is looked for here."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "quietleaf"
MIDDLE = ("planning", "booth", "sound", "listening", "finishing", "delivery")
# Names that open files without an import of their own, and the clock and the dice of the arrays.
CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
METHODS = {
    "fromfile",
    "genfromtxt",
    "loadtxt",
    "memmap",
    "now",
    "save",
    "savetxt",
    "savez",
    "savez_compressed",
    "today",
    "tofile",
    "utcnow",
}


def impurities(source: str) -> list[str]:
    """Find calls that read or write files, ask for the time or for random numbers."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        last = name.rpartition(".")[2]
        unseeded = ".random." in name and not (node.args or node.keywords)
        if (
            name in CALLS
            or ("." in name and last in METHODS)
            or name in ("np.load", "numpy.load")
            or unseeded
        ):
            found.append(f"line {node.lineno}: {name}")
    return found


@pytest.mark.parametrize("room", MIDDLE)
def test_room_reads_no_file_and_no_clock(room: str) -> None:
    found = {
        str(path.relative_to(PACKAGE)): calls
        for path in sorted((PACKAGE / room).rglob("*.py"))
        if (calls := impurities(path.read_text()))
    }
    assert found == {}


@pytest.mark.parametrize(
    "line",
    [
        "open('x')",
        "np.load('x')",
        "samples.tofile('x')",
        "datetime.now(UTC)",
        "np.random.default_rng()",
    ],
)
def test_an_impure_line_is_seen(line: str) -> None:
    assert len(impurities(line)) == 1


def test_a_seed_from_the_recipe_is_allowed() -> None:
    assert impurities("np.random.Generator(np.random.PCG64(seed)).normal(size=3)") == []
