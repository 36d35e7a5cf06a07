"""Modules of numbers as makers write them: what they have learned, as texts broken into lines."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

LINE = 96


def text_constant(name: str, text: str) -> str:
    """Give a constant that holds a long text without spaces."""
    lines = "\n".join(text[at : at + LINE] for at in range(0, len(text), LINE))
    return f'{name} = """\\\n{lines}\n"""\n'


def write_constants(path: Path, constants: Iterable[str]) -> None:
    """Write the constants of a module anew; all up to its version stays."""
    told = path.read_text()
    version = told.index("\nVERSION = ") + 1
    head = told[: told.index("\n", version) + 1]
    path.write_text("\n".join([head, *constants]))
