"""Clear a reading for the air, or return it to its reader with what is to be read again."""

from __future__ import annotations

from quietleaf.booth.edits import StateSet
from quietleaf.errors import Conflict, Invalid
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.clearing import refuse_elsewhere
from quietleaf.work.decide import NOTE_LETTERS, AtTheDesk, enter_state
from quietleaf.work.see_review import SeenReview
from quietleaf.work.tools import Tools


def clear_reading(
    desk: AtTheDesk,
    tools: Tools,
    *,
    heard: str,
    heard_whole: bool = False,
    despite: bool = False,
) -> ReadingFolder:
    """Clear a reading: what is heard of it does not change from then on.

    Parameters
    ----------
    heard : str
        The key of what was heard: nothing else is cleared.
    heard_whole : bool
        Whoever clears it says that they heard all of it; asked where the review depth is whole.
    despite : bool
        It may go out in spite of what speaks against it.

    Raises
    ------
    Conflict
        If something is not decided yet, is to be read again or is not carried out, the reading has
        changed or was finished again since it was seen, or is not on the desk.
    NotAllowed
        If the programme wants another reviewer than its reader.
    """

    def refuse(seen: SeenReview) -> None:
        refuse_elsewhere(seen.state)
        if heard != seen.heard.key:
            raise Conflict(
                "review/other-sound",
                "It is not cleared: it was finished again since you heard it. Hear what is new "
                "here, then clear it.",
            )
        reasons = list(seen.hindrances)
        if seen.review == "whole" and not heard_whole:
            reasons.append("This programme is heard whole: say that you heard all of it.")
        if seen.despite and not despite:
            reasons += [*seen.despite, "Say that it may go out all the same, or return it."]
        if reasons:
            raise Conflict("review/not-clear", f"It is not cleared yet. {' '.join(reasons)}")

    return enter_state(desk, StateSet(state="cleared", note=""), tools, refuse)


def return_reading(desk: AtTheDesk, note: str, tools: Tools) -> ReadingFolder:
    """Return a reading to its reader.

    Parameters
    ----------
    note : str
        For the reader, beside the notes of what is to be read again.

    Raises
    ------
    Conflict
        If there is neither something to be read again nor a note, the reading has changed since it
        was seen, or cannot be returned any more.
    Invalid
        If the note is too long.
    NotAllowed
        If the programme wants another reviewer than its reader.
    """
    if len(note) > NOTE_LETTERS:
        raise Invalid(
            "review/long",
            f"This holds at most {NOTE_LETTERS} letters; {len(note)} came. Shorten it a little.",
        )

    def refuse(seen: SeenReview) -> None:
        if not note and not seen.to_read_again:
            raise Conflict(
                "review/no-reason",
                "It is not returned yet: its reader would not know why. Decide what is to be read "
                "again, or write a note.",
            )

    return enter_state(desk, StateSet(state="returned", note=note), tools, refuse)
