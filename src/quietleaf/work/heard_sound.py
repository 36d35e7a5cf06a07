"""What the desk hears of a reading: its master, or the reading as it stands where there is none.

A master counts as long as it was made of the reading as it stands: one that was read again since
is heard by itself until it is finished again.
"""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.booth.timeline import Place
from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.report import ReportFacts
from quietleaf.errors import QuietleafError
from quietleaf.finishing.plan import RATE_HZ, Plan
from quietleaf.finishing.plan_json import plan_of_text
from quietleaf.finishing.sound_places import SoundPlaces
from quietleaf.listening.findings import Finding
from quietleaf.listening.verdict import Ground
from quietleaf.listening.words_check import WordsCheck
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.units import samples_of_s
from quietleaf.work.kept_hearing import KeptSentence, kept_under, sound_key
from quietleaf.work.take_places import TakePlaces
from quietleaf.work.tools import Tools

_LEAD_IN_S_MIN = 1.5
_LEAD_IN_S_MOST = 12.0
_AFTER_S_MOST = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardSound:
    """A sound with what was found in it, in its own seconds.

    Attributes
    ----------
    key : str
        Names what is heard: another once the reading is changed, or finished again.
    plan : Plan or None
        What made it of the reading; None where it is the reading itself.
    is_heard : bool
        Somebody has listened to it: without that nothing can have been found.
    is_outdated : bool
        There are masters, and the reading was changed since.
    grounds : tuple of Ground
        What speaks against sending it out.
    articles : tuple of Chapter
        Each ends where the next begins.
    places : TakePlaces
        Of the reading as it stands.
    made_of : SoundPlaces or None
        Of the master in that; None where it is the reading itself.
    """

    key: str
    plan: Plan | None
    is_heard: bool
    is_outdated: bool
    duration_s: float
    findings: tuple[Finding, ...]
    grounds: tuple[Ground, ...]
    words: WordsCheck | None
    sentences: tuple[KeptSentence, ...]
    articles: tuple[Chapter, ...]
    places: TakePlaces
    made_of: SoundPlaces | None

    def sound_range(self, start_s: float, end_s: float) -> tuple[int, int]:
        """Give where a range was in the sound that was finished, in samples at 48 kHz."""
        start, stop = (samples_of_s(at_s, RATE_HZ) for at_s in (start_s, end_s))
        if self.made_of is not None:
            start, stop = self.made_of.sound_places((start, stop))
        return start, max(stop, start + 1)

    def take_range(self, start_s: float, end_s: float) -> tuple[Place, Place]:
        """Give where a range of what is heard lies in the takes."""
        return self.places.range_of(*self.sound_range(start_s, end_s))

    def sound_samples(self, start: Place, stop: Place) -> tuple[int, int]:
        """Give where places of the takes are in the reading as it stands, at 48 kHz."""
        return self.places.sample_of(start), self.places.sample_of(stop)

    def seconds(self, start: Place, stop: Place) -> tuple[float, float]:
        """Give where places of the takes are heard; what is outside lies at a join."""
        samples = self.sound_samples(start, stop)
        if self.made_of is not None:
            first, last = self.made_of.master_places(samples)
            return first / RATE_HZ, last / RATE_HZ
        return samples[0] / RATE_HZ, samples[1] / RATE_HZ

    def sentence_at(self, at_s: float) -> tuple[float, float]:
        """Give where the sentence that is heard at a time begins and ends.

        Without sentences it is what lies 5 s on both sides.
        """
        for sentence, following in zip(self.sentences, (*self.sentences[1:], None), strict=True):
            if following is None or at_s < following.start_s:
                return min(sentence.start_s, at_s), max(sentence.end_s, at_s)
        return max(0.0, at_s - 5.0), min(self.duration_s, at_s + 5.0)

    def hear_range(self, start_s: float, end_s: float) -> tuple[float, float]:
        """Give what to play of a range: from a sentence before it to the end of its own."""
        starts = [one.start_s for one in self.sentences if one.start_s <= start_s - _LEAD_IN_S_MIN]
        first_s = max([start_s - _LEAD_IN_S_MOST, *starts[-1:]])
        stops = [one.end_s for one in self.sentences if one.end_s >= end_s]
        last_s = min([end_s + _AFTER_S_MOST, *stops[:1]])
        return max(0.0, first_s), min(self.duration_s, max(last_s, end_s + 1.0))


def heard_sound(
    row: ReadingRow,
    folder: ReadingFolder,
    report: ReportFacts | None,
    words: WordsCheck | None,
    tools: Tools,
) -> HeardSound:
    """Give what the desk hears of a reading.

    Parameters
    ----------
    report : ReportFacts or None
        Of its master; None where there is none.
    words : WordsCheck or None
        What was found of the opening and closing words in that.
    """
    places = TakePlaces(folder)
    made = {master.kind: master for master in row.masters}
    plan = plan_of(row, tools)
    if report is not None and plan is not None and plan.layout.sound_samples == places.samples:
        key = made["wave"].sha256[:16]
        heard = kept_under(folder, key)
        return HeardSound(
            key=key,
            plan=plan,
            is_heard=True,
            is_outdated=False,
            duration_s=report.duration_s,
            findings=report.findings,
            grounds=report.grounds,
            words=words,
            sentences=heard.sentences if heard else (),
            articles=report.chapters,
            places=places,
            made_of=SoundPlaces(plan.layout),
        )
    key = sound_key(folder)
    heard = kept_under(folder, key)
    duration_s = places.samples / RATE_HZ
    return HeardSound(
        key=key,
        plan=None,
        is_heard=heard is not None,
        is_outdated=bool(made),
        duration_s=duration_s,
        findings=heard.findings if heard else (),
        grounds=heard.grounds if heard else (),
        words=None,
        sentences=heard.sentences if heard else (),
        articles=_articles(folder, places, duration_s),
        places=places,
        made_of=None,
    )


def plan_of(row: ReadingRow, tools: Tools) -> Plan | None:
    """Give the plan of a reading's master; None where there is none that can be read."""
    made = next((master for master in row.masters if master.kind == "plan"), None)
    if made is None:
        return None
    try:
        return plan_of_text((tools.data / row.folder / made.path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, QuietleafError):
        # Without it nobody knows where the master's sound is from: the reading itself is heard.
        return None


def _articles(folder: ReadingFolder, places: TakePlaces, duration_s: float) -> tuple[Chapter, ...]:
    marks = folder.timeline().articles
    starts = [places.sample_of((mark.take, mark.sample)) / RATE_HZ for mark in marks]
    return tuple(
        Chapter(title=mark.title or f"Article {number}", start_s=start_s, end_s=end_s)
        for number, (mark, start_s, end_s) in enumerate(
            zip(marks, starts, [*starts[1:], duration_s], strict=False), start=1
        )
    )
