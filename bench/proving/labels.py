"""What is known of a made session: time ranges with a kind, faults and the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, get_args

from quietleaf.listening.findings import FindingKind

FAULTS: tuple[str, ...] = get_args(FindingKind)
"""Kinds that are findings. What else is told, for training: `breath-natural`, `speech`, `pause`,
and over all of a session `room` (read in an echoing room: echo is neither right nor wrong) and
`hum-own` (the recordings hum by themselves)."""

KIND_OF_SORT: Mapping[str, str] = {
    "cough": "cough",
    "throat_clear": "cough",
    "sneeze": "cough",
    "page_turn": "rustle",
    "paper_rustle": "rustle",
    "cloth_rustle": "rustle",
    "click": "click",
    "gasp": "breath",
    "sigh_yawn": "breath",
    "sniff": "breath",
    "breath": "breath-natural",
    "creak": "noise",
    "door": "noise",
    "door_knock": "noise",
    "keyboard": "noise",
    "phone": "noise",
    "bell": "noise",
    "dishes": "noise",
    "footsteps": "noise",
    "mouse_click": "click",
    "thump": "noise",
}
"""The kind that each sort of recorded sound is told as. A recorded breath that is mixed in loud is
told as `breath`."""

ANY_NOISE: tuple[str, ...] = ("noise", "rustle", "cough", "click", "breath")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One thing that is known.

    Attributes
    ----------
    start_s, end_s : float
        Seconds of the session. For `restart`: the onset of the attempt and the onset of what is
        read again, so what must be cut, but for where in the two pauses the cut lies.
    detail : mapping
        By kind; `restart`: ``pause_before_s`` and ``pause_again_s`` (start, end), ``how``
        (warped or true), ``chain``, ``attempt``, ``tries``, ``words``, ``sentences``, ``between``.
        Sounds: ``source``, ``sort``, ``where`` (pause or speech), ``snr_db`` against the speech.
        `speech`: ``clip``, ``text``, ``words`` (count or None), ``role`` (read, attempt, again,
        refrain, alike, doubled).
    """

    kind: str
    start_s: float
    end_s: float
    detail: Mapping[str, Any] = field(default_factory=dict)


def of_kind(labels: Iterable[Label], *kinds: str) -> tuple[Label, ...]:
    """Give the labels of some kinds, in order of time."""
    found = [label for label in labels if label.kind in kinds]
    return tuple(sorted(found, key=lambda label: (label.start_s, label.end_s)))
