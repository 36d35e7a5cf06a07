"""The line of progress: for whoever watches, and gone in the end."""

from __future__ import annotations

import io
import sys

import pytest

from quietleaf.cli.progress import progress_line


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nobody_watches_a_pipe(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    with progress_line() as progress:
        progress("writing", 0.5)
    assert pipe.getvalue() == ""


def test_a_line_for_each_hundredth_and_gone_in_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress_line() as progress:
        for done in range(1_001):
            progress("listening", done / 1_000)
        progress("writing", 0.0)
        progress("writing", 1.7)
    lines = terminal.getvalue().split("\r")
    assert len(lines) < 110
    assert lines[-5:] == [
        "listening: 100 %",
        "writing: 0 %    ",
        "writing: 100 %",
        " " * len("writing: 100 %"),
        "",
    ]


def test_it_is_gone_after_a_stop_too(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with pytest.raises(KeyboardInterrupt):
        stopped_at_half()
    assert terminal.getvalue().endswith("\r")


def stopped_at_half() -> None:
    with progress_line() as progress:
        progress("writing", 0.5)
        raise KeyboardInterrupt
