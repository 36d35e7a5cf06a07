"""Hear a reading as it stands; run as a program, it tells of its progress as JSON lines.

It reads the words that are to be listened for, as JSON, from its standard input; a second argument
names the folder of a recogniser's model.

The program is a process of its own at low priority: whoever is being recorded at the same time
goes first. It ends when nobody reads its progress any more.
"""

from __future__ import annotations

import json
import os
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from quietleaf.errors import QuietleafError
from quietleaf.listening import listen
from quietleaf.storage.aligner import open_aligner
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.recogniser import Recogniser, open_recogniser
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.ahead import read_ahead
from quietleaf.work.check_words import (
    NO_WORDS,
    SetWords,
    check_words,
    words_from_text,
)
from quietleaf.work.hear_blocks import hear_blocks
from quietleaf.work.hear_words import hear_words
from quietleaf.work.kept_hearing import (
    HeardReading,
    keep_hearing,
    kept_hearing,
    sound_key,
    words_key,
)
from quietleaf.work.kept_words import keep_words
from quietleaf.work.tools import Progress, no_progress

RATE_HZ = 48_000
_BLOCK_FRAMES = 1 << 19
"""Three threads hand blocks on to each other: of larger ones they wait less for each other."""
_NICER = 10
_LISTENING_SHARE = 0.1
"""Of the time, where a recogniser is asked. Ours, from an hour."""


def hear_reading(
    folder: ReadingFolder,
    words: SetWords = NO_WORDS,
    progress: Progress = no_progress,
    recogniser: Recogniser | None = None,
) -> HeardReading:
    """Hear a reading's timeline in one pass and keep what was heard in its folder.

    Parameters
    ----------
    words : SetWords
        What was to be said first and last: it is listened for where the extra is installed.
    recogniser : Recogniser or None
        Where there is one, it is asked what was read twice, and words are counted.

    Raises
    ------
    AudioUnfit
        If nothing is in its programme.
    Damaged
        If a take is not what was recorded.
    """
    key = sound_key(folder)
    with TimelineSound(folder, RATE_HZ) as sound, ThreadPoolExecutor(1) as pool:
        state = listen.start(RATE_HZ, 1)
        done = 0
        share = _LISTENING_SHARE if recogniser else 1.0
        for block in hear_blocks(state, read_ahead(sound.blocks(_BLOCK_FRAMES), pool)):
            done += block.shape[0]
            progress("Listening", share * done / sound.info.frames)
        if words != NO_WORDS:
            checked = check_words(words, sound, open_aligner())
            keep_words(folder.path, words_key(key, words), checked)
        heard_words = (
            hear_words(
                listen.asked_restarts(state),
                sound,
                recogniser,
                lambda step, done: progress(step, share + (1.0 - share) * done),
            )
            if recogniser
            else None
        )
    heard_now = listen.result(state, words=heard_words)
    keep_hearing(folder, key, heard_now, folder.facts.reading_id)
    heard = kept_hearing(folder, words=words)
    assert heard is not None, "it was kept just now"
    return heard


def main() -> int:
    """Hear the reading in the folder that is named, and write a JSON line for each step."""
    os.nice(_NICER)
    try:
        words = words_from_text(sys.stdin.read())
        hear_reading(
            ReadingFolder(Path(sys.argv[1])),
            words,
            lambda _step, done: _say({"done": round(done, 4)}),
            open_recogniser(Path(sys.argv[2])) if len(sys.argv) > 2 else None,
        )
    except QuietleafError as refusal:
        _say({"refused": refusal.sentence})
        return 2
    return 0


def _say(told: dict[str, object]) -> None:
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    try:
        sys.exit(main())
    except BrokenPipeError:
        # Whoever wanted to know is gone.
        os._exit(1)
