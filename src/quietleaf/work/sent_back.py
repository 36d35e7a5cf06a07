"""What a return sends back, as whole sentences: where each begins and ends, found by listening."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace

from quietleaf.booth.corrections import Correction, as_returned, corrections
from quietleaf.booth.edits import RemarkKind
from quietleaf.booth.replay import timeline
from quietleaf.booth.timeline import Place, Span, Timeline
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import SentenceStart, sentence_starts
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_reader import TakeReader
from quietleaf.work.spans_sound import first_spans, last_spans, spans_sound

BEFORE_S, AFTER_S = 60.0, 40.0
"""So much of the programme is listened to on both sides of a place: enough to know the reader."""
SENTENCE_S = 20.0
"""Sentences are seldom longer: where no start in so much is likely, the likeliest that may be one
is taken; as at the stand, see core/again.js."""
MAY_BE = 0.25
_TOUCHES_S = 0.2
"""A place that begins so little before a pause is about what comes after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing that the desk wishes, in its words."""

    remark: RemarkKind
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SentBack:
    """A sentence, or a few, to be read again.

    Attributes
    ----------
    number : int
        Of the first decision about it: what is read again is read for that.
    asked : tuple of Asked
        What the desk says of it.
    start, stop : Place
        From the pause before its first sentence into the pause after its last.
    at_s, length_s : float
        Where the place lies in the programme as it was handed in, and how long the sentences are.
    sentences : int
        About how many they are.
    is_read : bool
        It has been read again.
    """

    number: int
    asked: tuple[Asked, ...]
    start: Place
    stop: Place
    at_s: float
    length_s: float
    sentences: int
    is_read: bool


def sent_back(folder: ReadingFolder) -> tuple[SentBack, ...]:
    """Give what the last return sends back, in the order of the programme.

    Places in one sentence, or in sentences that follow on each other, are one thing to read. What
    has been read again meanwhile changes nothing of the places.

    Raises
    ------
    Damaged
        If a take is not what was written.
    """
    asked = corrections(folder.standing)
    whole = timeline(as_returned(folder.standing))
    if not asked or not whole.spans:
        return ()
    with readers_of(folder, (span.take for span in whole.spans)) as readers:
        found = [_sentence(one, whole, readers) for one in asked]
    return tuple(_joined(found, whole))


@contextmanager
def readers_of(folder: ReadingFolder, takes: Iterable[int]) -> Iterator[dict[int, TakeReader]]:
    """Open takes, by their numbers."""
    with ExitStack() as opened:
        yield {take: opened.enter_context(folder.open_take(take)) for take in sorted(set(takes))}


def _sentence(one: Correction, whole: Timeline, readers: Mapping[int, TakeReader]) -> SentBack:
    """Give the sentence, or the few, that a place lies in."""
    what = one.entry.what
    before, after = whole.spans_before(what.start), whole.spans_after(what.stop)
    inside = replace(whole, spans=whole.spans_after(what.start)).spans_before(what.stop)
    near, next_to = last_spans(before, readers, BEFORE_S), first_spans(after, readers, AFTER_S)
    rate = readers[(*inside, *next_to, *near)[0].take].info.sample_rate_hz
    sound = spans_sound((*near, *inside, *next_to), readers, rate)
    begins = [*(first for first, _ in sound.pieces), sound.samples.size]
    at, until = begins[len(near)], begins[len(near) + len(inside)]
    found = sentence_starts(sound.samples, rate)
    if near != before:
        # Where the sound begins in the middle of the programme, no sentence need begin.
        found = found[1:]
    first = _first(found, at, until, rate)
    last = _last(found, until, rate, after=-1 if first is None else first.place)
    start = 0 if first is None else first.place
    stop = sound.samples.size if last is None else last.place
    end = sound.spans[-1]
    return SentBack(
        number=one.entry.number,
        asked=(Asked(remark=what.remark, note=what.note),),
        start=sound.place(start),
        stop=(end.take, end.stop) if last is None else sound.place(stop),
        at_s=_length_s(before, readers),
        length_s=(stop - start) / rate,
        sentences=1 + sum(start < each.place < stop for each in found if each.likelihood >= LIKELY),
        is_read=one.patch is not None,
    )


def _first(found: Sequence[SentenceStart], at: int, until: int, rate: int) -> SentenceStart | None:
    """Give where the sentence begins that something is in; None for the very beginning."""
    touches = round(_TOUCHES_S * rate)
    before = [
        one
        for one in found
        if one.pause_stop <= at or (one.pause_start - touches <= at and one.pause_stop < until)
    ]
    near = [one for one in reversed(before) if at - one.pause_stop <= SENTENCE_S * rate]
    return _likeliest(near) or (before[-1] if before else None)


def _last(
    found: Sequence[SentenceStart], until: int, rate: int, *, after: int
) -> SentenceStart | None:
    """Give the sentence start that follows; None where nothing does."""
    touches = round(_TOUCHES_S * rate)
    following = [one for one in found if one.place > after and one.pause_stop >= until - touches]
    near = [one for one in following if one.pause_start - until <= SENTENCE_S * rate]
    return _likeliest(near) or (following[0] if following else None)


def _likeliest(near: Sequence[SentenceStart]) -> SentenceStart | None:
    """Give the nearest likely one; where there is none, the likeliest that may be one."""
    likely = next((one for one in near if one.likelihood >= LIKELY), None)
    may_be = [one for one in near if one.likelihood >= MAY_BE]
    return likely or max(may_be, key=lambda one: one.likelihood, default=None)


def _joined(found: Sequence[SentBack], whole: Timeline) -> Iterator[SentBack]:
    """Join what overlaps, and what follows at once."""
    going: SentBack | None = None
    for one in sorted(found, key=lambda each: whole.rank(each.start)):
        if going is None:
            going = one
        elif whole.rank(one.start) > whole.rank(going.stop):
            yield going
            going = one
        else:
            going = _together(going, one, whole)
    if going is not None:
        yield going


def _together(one: SentBack, other: SentBack, whole: Timeline) -> SentBack:
    longer = max(one, other, key=lambda each: whole.rank(each.stop))
    apart = whole.rank(other.start) == whole.rank(one.stop)
    same = whole.rank(other.stop) <= whole.rank(one.stop)
    return SentBack(
        number=min(one.number, other.number),
        asked=(*one.asked, *other.asked),
        start=one.start,
        stop=longer.stop,
        at_s=one.at_s,
        length_s=one.length_s if same else one.length_s + other.length_s,
        sentences=one.sentences + other.sentences if apart else max(one.sentences, other.sentences),
        is_read=one.is_read and other.is_read,
    )


def _length_s(spans: Sequence[Span], readers: Mapping[int, TakeReader]) -> float:
    return sum((span.stop - span.start) / readers[span.take].info.sample_rate_hz for span in spans)
