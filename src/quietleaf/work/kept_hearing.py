"""What was heard in a reading, kept in its folder under a name made of what it was heard in."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Hearing, Level, Verdict
from quietleaf.listening.hearing_json import SCHEMA, hearing_to_json
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.verdict import Ground, grounds_of, reasons_at, verdict_at
from quietleaf.listening.words_check import WordsCheck, grounds_of_words, words_to_hear
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.storage.disk import replace_whole
from quietleaf.work.check_words import NO_WORDS, SetWords
from quietleaf.work.kept_words import kept_words

if TYPE_CHECKING:
    from quietleaf.storage.reading_folder import ReadingFolder


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardReading:
    """A hearing in short, judged by a review depth.

    Attributes
    ----------
    review : {"none", "things to hear", "whole"}
        What the verdict goes by.
    reasons : tuple of str
        Why the verdict is so; at least one sentence.
    things_to_hear : int
        Findings that ask for a person, those in the opening and closing words counted.
    cut_off : int
        Places where the voice is cut off at its peaks, also those that ask for nobody.
    active_speech_dbov, noise_floor_dbov : float or None
        Levels relative to RMS 1.0; None where there is no measurement.
    words : WordsCheck or None
        What was found of the opening and closing words; None where nobody listened for them.
    """

    duration_s: float
    review: ReviewDepth = USUAL_REVIEW
    verdict: Verdict
    reasons: tuple[str, ...]
    things_to_hear: int
    cut_off: int
    active_speech_dbov: float | None
    noise_floor_dbov: float | None
    words: WordsCheck | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSentence:
    """A sentence of what was heard, in seconds.

    Attributes
    ----------
    start_s : float
        Where to play from: in the pause before it.
    voice_s, end_s : float
        From its first sound to its last; the last sentence ends with what was heard.
    """

    start_s: float
    voice_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptHearing:
    """A hearing as it was kept: all of it that a page shows."""

    duration_s: float
    speech_s: float
    level: Level
    findings: tuple[Finding, ...]
    sentences: tuple[KeptSentence, ...]

    @property
    def grounds(self) -> tuple[Ground, ...]:
        """What speaks against it."""
        found = list(self.findings)
        return grounds_of(self.level, self.speech_s, self.duration_s, found, HEARING_LIMITS)


def words_key(sound: str, words: SetWords) -> str:
    """Name what is found of words by the sound, as `sound_key` names it, and by the words."""
    told = json.dumps([sound, asdict(words)])
    return hashlib.sha256(told.encode()).hexdigest()


def sound_key(folder: ReadingFolder, dead_air_s: float = HEARING_LIMITS.dead_air_s) -> str:
    """Name what is heard by what it is heard in, the version that listens, and its limit."""
    timeline = folder.timeline()
    told = {
        "version": version("quietleaf"),
        "dead_air_s": dead_air_s,
        "takes": [[take.take, take.sha256] for take in folder.takes()],
        "spans": [[span.take, span.start, span.stop] for span in timeline.spans],
    }
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:16]


def keep_hearing(folder: ReadingFolder, key: str, heard: Hearing, of: str) -> None:
    """Keep what was heard among the reading's measures, in place of an earlier one of that key."""
    text = json.dumps(hearing_to_json(heard, of), ensure_ascii=False, allow_nan=False)
    replace_whole(_path(folder, key), text.encode() + b"\n")


def kept_hearing(
    folder: ReadingFolder, review: ReviewDepth = USUAL_REVIEW, words: SetWords = NO_WORDS
) -> HeardReading | None:
    """Give what was heard in the reading as it stands; None where nobody has listened yet.

    The verdict is made anew of what was heard, since a programme's review depth can change. Of
    opening and closing words that were others when it was heard, nothing is told.
    """
    key = sound_key(folder)
    checked = kept_words(folder.path, words_key(key, words))
    heard = kept_under(folder, key)
    if heard is None:
        return None
    grounds = (*heard.grounds, *(() if checked is None else grounds_of_words(checked)))
    return HeardReading(
        duration_s=heard.duration_s,
        review=review,
        verdict=verdict_at({ground.weight for ground in grounds}, review),
        reasons=reasons_at(grounds, review),
        things_to_hear=sum(finding.severity != "note" for finding in heard.findings)
        + (0 if checked is None else words_to_hear(checked)),
        cut_off=sum(finding.kind == "clip" for finding in heard.findings),
        active_speech_dbov=heard.level.active_speech_dbov,
        noise_floor_dbov=heard.level.noise_floor_dbov,
        words=checked,
    )


def kept_under(folder: ReadingFolder, key: str) -> KeptHearing | None:
    """Give a hearing by its key, see `sound_key`; a wave master's is its checksum's beginning."""
    try:
        told: dict[str, Any] = json.loads(_path(folder, key).read_bytes())
        if told["schema"] != SCHEMA:
            return None
        duration_s = float(told["duration_s"])
        starts = told["sentences"]
        ends = [*(float(one["pause_start_s"]) for one in starts[1:]), duration_s]
        return KeptHearing(
            duration_s=duration_s,
            speech_s=float(told["speech"]["speech_s"]),
            level=Level(**told["level"]),
            findings=tuple(Finding(**finding) for finding in told["findings"]),
            sentences=tuple(
                KeptSentence(
                    start_s=float(one["start_s"]), voice_s=float(one["pause_stop_s"]), end_s=end_s
                )
                # Where there are no sentences there is one end too many.
                for one, end_s in zip(starts, ends, strict=False)
            ),
        )
    except (OSError, ValueError, KeyError, TypeError):
        # Whatever is wrong with it: it can be heard anew.
        return None


def _path(folder: ReadingFolder, key: str) -> Path:
    return folder.path / "measures" / f"hearing-{key}.json"
