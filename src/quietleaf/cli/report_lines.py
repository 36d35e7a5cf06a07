"""A report in short, as lines for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from quietleaf.units import clock

if TYPE_CHECKING:
    from quietleaf.delivery.report import Figure, ReportFacts
    from quietleaf.units import Window

_MET = {True: " (met)", False: " (NOT met)", None: ""}


def report_lines(report: ReportFacts) -> list[str]:
    """Give reasons, length and every figure before and after, beside its target."""
    return [
        *report.reasons,
        f"Length {clock(report.duration_before_s)} -> {clock(report.duration_s)}"
        f"{_wanted(report.window)}",
        f"{'':<26}{'before':>10}{'after':>10}   target",
        *(_figure(figure) for figure in report.figures),
    ]


def _wanted(window: Window | None) -> str:
    if window is None:
        return ""
    if window.shortest_s == window.longest_s:
        return f", {clock(window.longest_s)} asked for"
    return f", window {window}"


def _figure(figure: Figure) -> str:
    before, after = (
        "-" if value is None else f"{value:.{figure.decimals}f}"
        for value in (figure.before, figure.after)
    )
    name = f"{figure.name}, {figure.unit}"
    return f"{name:<26}{before:>10}{after:>10}   {figure.target}{_MET[figure.met]}".rstrip()
