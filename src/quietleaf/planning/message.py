"""A message to the desk: somebody asks for help, or something is not as planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

MessageKind = Literal["help", "paper-missing", "issue-differs", "remark", "late-sound", "taken"]
MESSAGE_KINDS: tuple[MessageKind, ...] = (
    "help",
    "paper-missing",
    "issue-differs",
    "remark",
    "late-sound",
    "taken",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What the desk is told.

    Attributes
    ----------
    booth : str or None
        Key of the booth it came from; None from home.
    text : str
        In the reader's words, or empty.
    seen_at : datetime or None
        Aware UTC; None while nobody at the desk has seen it.
    """

    message_id: str
    kind: MessageKind
    at: datetime
    booth: str | None
    reader: str
    assignment_key: str | None
    reading_id: str | None
    text: str
    seen_at: datetime | None
