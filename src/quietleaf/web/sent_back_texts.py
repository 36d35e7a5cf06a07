"""Words about what the desk sends back, as its reader meets them: today, and at the stand."""

from __future__ import annotations

from collections.abc import Sequence

from quietleaf.booth.edits import RemarkKind
from quietleaf.delivery.report_words import begun, counted
from quietleaf.work.sent_back import Asked, SentBack

READ_AGAIN = "Read it again"
PLEASE = "Please read this again"
DESK_WRITES = "The desk writes"
DESK_ASKS = "What the desk asks"
_SENTENCES = ("sentence", "sentences")
_UNSAID: dict[RemarkKind, str] = {
    "text": "a word in it",
    "sound": "a noise in it",
    "performance": "how it is read",
    "form": "what is announced",
    "": "something in it",
}
"""What the desk marked, where it wrote nothing."""


def to_read_again(sent_back: Sequence[SentBack]) -> str:
    """Say what there is to read again, in one sentence; of several without what they are."""
    left = [one for one in sent_back if not one.is_read]
    if not left:
        return "You have read again all that the desk asked for. Hear it once more, or hand it in."
    if len(left) == 1:
        (one,) = left
        return f"{begun(how_many(one))} to read again, {where(one)}: {what(one)}."
    if all(one.sentences == 1 for one in left):
        return f"{begun(counted(len(left), *_SENTENCES))} to read again:"
    return f"{begun(counted(len(left), 'place', 'places'))} to read again:"


def item(one: SentBack, *, alike: bool) -> str:
    """Name one of several things to read again; how many sentences, unless all are one."""
    many = "" if alike else f"{how_many(one)}, "
    return f"{many}{where(one)}: {what(one)}"


def how_many(one: SentBack) -> str:
    """Say how many sentences they are."""
    return counted(one.sentences, *_SENTENCES)


def where(one: SentBack) -> str:
    """Say where in the reading it lies, to the second.

    Examples
    --------
    >>> from quietleaf.work.sent_back import Asked, SentBack
    >>> one = SentBack(
    ...     number=4, asked=(), start=(1, 0), stop=(1, 9),
    ...     at_s=760.4, length_s=4.0, sentences=1, is_read=False)
    >>> where(one)
    'at 12:40'
    """
    minutes, seconds = divmod(int(one.at_s), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"at {hours}:{minutes:02d}:{seconds:02d}"
    return f"at {minutes}:{seconds:02d}"


def what(one: SentBack) -> str:
    """Say what the desk wrote of it; each thing once."""
    said = dict.fromkeys(_said(asked) for asked in one.asked)
    return "; ".join(said)


def about_long(one: SentBack) -> str:
    """Say how long it is, so that nobody reads on for too long."""
    seconds = max(1, round(one.length_s))
    long = f"{seconds} seconds" if seconds != 1 else "a second"
    return f"{begun(how_many(one))}, about {long}."


def asks_title(one: SentBack) -> str:
    """Head what the desk says of it at the stand."""
    return f"{DESK_ASKS}, {where(one)}"


def _said(asked: Asked) -> str:
    return asked.note.strip().rstrip(".") or _UNSAID[asked.remark]
