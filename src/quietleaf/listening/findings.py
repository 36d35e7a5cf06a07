"""A finding: a time range with a kind, a severity, what was measured, and plain advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FindingKind = Literal[
    "clip",
    "dropout",
    "dead-air",
    "hum",
    "noise",
    "breath",
    "rustle",
    "click",
    "pop",
    "cough",
    "level-step",
    "restart",
    "echo",
]
Severity = Literal["fix", "hear", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to hear.

    Attributes
    ----------
    start_s, end_s : float
        Seconds from the start of what was heard.
    severity : {"fix", "hear", "note"}
        ``fix``: a change is proposed; ``hear``: somebody should listen; ``note``: for the record.
    value, limit : float or None
        What was measured, and what it was held against, both in ``unit``.
    advice : str
        One or two plain sentences.
    """

    kind: FindingKind
    start_s: float
    end_s: float
    severity: Severity
    value: float | None
    limit: float | None
    unit: str
    advice: str
