"""Messages to the desk: sent from a booth or from home, and seen."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta

from quietleaf.errors import NotFound
from quietleaf.planning.message import Message, MessageKind
from quietleaf.storage.reading_places import READINGS
from quietleaf.work.sit_down import Sitting
from quietleaf.work.tools import Tools

SAID_ALREADY = timedelta(minutes=1)
"""A button pressed again and again fills no page. Ours."""


def tell_desk(
    kind: MessageKind,
    sitting: Sitting,
    tools: Tools,
    *,
    text: str = "",
    assignment_key: str | None = None,
) -> Message:
    """Tell the desk something; it stands on the day page until somebody has seen it.

    The same again within `SAID_ALREADY` is what stands there already.
    """
    place, _, reading_id = (sitting.reading or "").partition(":")
    now = tools.clock()
    message = Message(
        message_id=uuid.uuid4().hex,
        kind=kind,
        at=now,
        booth=sitting.booth,
        reader=sitting.reader,
        assignment_key=assignment_key,
        # A practice reading is found by nobody, and the desk's pages do not lead to it.
        reading_id=reading_id if place == READINGS else None,
        text=text,
        seen_at=None,
    )
    for said in tools.database.messages(open_only=True, since=now - SAID_ALREADY):
        if replace(said, message_id=message.message_id, at=now) == message:
            return said
    tools.database.add_message(message)
    return message


def see_message(message_id: str, tools: Tools) -> Message:
    """Keep that the desk has seen a message; the first time counts.

    Raises
    ------
    NotFound
        If there is none of that id.
    """
    tools.database.message(message_id)
    tools.database.see_message(message_id, tools.clock())
    return tools.database.message(message_id)


def own_message(message_id: str, sitting: Sitting, tools: Tools) -> Message | None:
    """Give a message that this reader sent; None if it is another's, or none."""
    try:
        message = tools.database.message(message_id)
    except NotFound:
        return None
    return message if message.reader == sitting.reader else None
