"""Hear a recording in a file."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from quietleaf.listening import listen
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.recogniser import Recogniser
from quietleaf.work.ahead import read_ahead
from quietleaf.work.hear_blocks import hear_blocks
from quietleaf.work.hear_words import hear_words
from quietleaf.work.tools import Progress, no_progress

_BLOCK_FRAMES = 1 << 19
"""Three threads hand blocks on to each other: a quarter of this costs a tenth more, twice as much
gains nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HearRecording:
    """What to hear, and the limits and the review depth it is held against."""

    path: Path
    limits: HearingLimits = HEARING_LIMITS
    review: ReviewDepth = USUAL_REVIEW


def hear_recording(
    request: HearRecording,
    progress: Progress = no_progress,
    recogniser: Recogniser | None = None,
) -> Hearing:
    """Hear a whole file in one pass.

    Parameters
    ----------
    recogniser : Recogniser or None
        Where there is one, it is asked what was read twice, and words are counted.

    Raises
    ------
    QuietleafError
        If the file is not there, is no sound, or cannot be heard; each says what to do.
    """
    with open_sound(request.path) as sound:
        info = sound.info
        state = listen.start(info.sample_rate_hz, info.channels, request.limits)
        done = 0
        with ThreadPoolExecutor(1) as pool:
            for block in hear_blocks(state, read_ahead(sound.blocks(_BLOCK_FRAMES), pool)):
                done += block.shape[0]
                progress("Listening", done / info.frames)
        heard_words = (
            hear_words(listen.asked_restarts(state), sound, recogniser, progress)
            if recogniser
            else None
        )
    return listen.result(state, request.review, heard_words)
