"""Readings being heard: one after another, each in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path

from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.check_words import NO_WORDS, SetWords, words_to_text
from quietleaf.work.kept_hearing import HeardReading, kept_hearing, sound_key


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenHearing:
    """How far a hearing has got.

    Attributes
    ----------
    heard : HeardReading or None
        None until it is done.
    done : float
        0 to 1.
    trouble : str
        A sentence, where it came to nothing; else empty.
    """

    heard: HeardReading | None
    done: float
    trouble: str


@dataclass(slots=True, kw_only=True)
class _Job:
    done: float = 0.0
    trouble: str = ""


class Hearings:
    """Has readings heard without anybody waiting. Any thread may ask.

    Parameters
    ----------
    recogniser : str
        The folder of a recogniser's model; empty: the sound alone tells what was read twice.
    """

    def __init__(self, recogniser: str = "") -> None:
        self._models = [recogniser] if recogniser else []
        self._jobs: dict[tuple[Path, str], _Job] = {}
        self._changing = threading.Lock()
        self._turn = threading.Lock()

    def ask(
        self,
        folder: ReadingFolder,
        review: ReviewDepth = USUAL_REVIEW,
        words: SetWords = NO_WORDS,
    ) -> SeenHearing:
        """Give what was heard in a reading as it stands; where nobody has listened yet, begin.

        What came to nothing is not tried again until the station starts anew or the reading
        changes.
        """
        heard = kept_hearing(folder, review, words)
        if heard is not None:
            return SeenHearing(heard=heard, done=1.0, trouble="")
        name = (folder.path, sound_key(folder))
        with self._changing:
            job = self._jobs.get(name)
            if job is None:
                job = self._jobs[name] = _Job()
                # As a daemon it keeps nobody from leaving: the process ends by itself then.
                threading.Thread(target=self._hear, args=(name, words, job), daemon=True).start()
        return SeenHearing(heard=None, done=job.done, trouble=job.trouble)

    def _hear(self, name: tuple[Path, str], words: SetWords, job: _Job) -> None:
        path, _ = name
        with (
            self._turn,
            subprocess.Popen(
                [
                    sys.executable,
                    "-P",
                    "-m",
                    "quietleaf.work.hear_reading",
                    str(path),
                    *self._models,
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            ) as process,
        ):
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(words_to_text(words))
            process.stdin.close()
            for line in process.stdout:
                told = json.loads(line)
                job.done = told.get("done", job.done)
                job.trouble = told.get("refused", job.trouble)
        if process.returncode == 0:
            with self._changing:
                self._jobs.pop(name, None)
        elif not job.trouble:
            job.trouble = "Listening stopped before it was done. The desk will listen."
