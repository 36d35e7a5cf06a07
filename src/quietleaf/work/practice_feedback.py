"""What came of a practice reading: how long, how it was heard, and its sound."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from quietleaf.booth.edits import WordsBegun
from quietleaf.booth.replay import counting
from quietleaf.delivery.bext import BroadcastExtension
from quietleaf.errors import Conflict
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.hear_reading import RATE_HZ
from quietleaf.work.hearings import Hearings, SeenHearing
from quietleaf.work.kept_hearing import sound_key
from quietleaf.work.practice import practice_folder
from quietleaf.work.practice_words import PracticeKind, practice_kind
from quietleaf.work.see_hand_in import CopySeen, copy_of, length_of
from quietleaf.work.tools import Tools

PLAYED_S = 600.0
"""So much of it can be heard again; nobody practises longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feedback:
    """What came of a practice reading.

    Attributes
    ----------
    holds : int
        How often it was held and gone on from.
    opening_marked, closing_marked : bool
        The reader marked where those words begin.
    hearing : SeenHearing or None
        None where nothing was recorded.
    """

    kind: PracticeKind
    reading_id: str
    length_s: float
    holds: int
    opening_marked: bool
    closing_marked: bool
    copy: CopySeen
    hearing: SeenHearing | None


def see_feedback(place: str, hearings: Hearings, tools: Tools) -> Feedback:
    """Say what came of a practice reading; listening to it begins where nobody has.

    Raises
    ------
    NotFound
        If it is gone, or is no practice reading.
    """
    folder = practice_folder(place, tools)
    kind = practice_kind(folder.facts)
    assert kind is not None, "practice readings are made here alone"
    words = {
        edit.what.which for edit in counting(folder.standing) if isinstance(edit.what, WordsBegun)
    }
    copy, length_s = copy_of(folder), length_of(folder)
    whole = bool(length_s) and not copy.open_takes
    return Feedback(
        kind=kind,
        reading_id=folder.facts.reading_id,
        length_s=length_s,
        holds=max(0, len(folder.takes()) - 1),
        opening_marked="opening" in words,
        closing_marked="closing" in words,
        copy=copy,
        hearing=hearings.ask(folder) if whole else None,
    )


def sound_of_practice(place: str, tools: Tools) -> Path:
    """Give a WAVE file of a practice reading as it stands, made where there is none yet.

    Raises
    ------
    NotFound
        If the practice reading is gone.
    AudioUnfit
        If nothing was recorded.
    """
    folder = practice_folder(place, tools)
    path = folder.path / "masters" / f"heard-{sound_key(folder)}.wav"
    if path.is_file():
        return path
    # Refused where another request made it meanwhile: the sound is the same.
    with (
        suppress(Conflict),
        TimelineSound(folder, RATE_HZ) as sound,
        WaveMaster(path, RATE_HZ) as wave,
    ):
        left = round(PLAYED_S * RATE_HZ)
        for block in sound.blocks():
            wave.write(block[:left, 0])
            left -= block.shape[0]
            if left <= 0:
                break
        wave.commit(BroadcastExtension(description=folder.facts.programme_title, originator=""))
    return path
