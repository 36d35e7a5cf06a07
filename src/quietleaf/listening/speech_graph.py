"""What may be said, as a graph: the words in their order, and what a reader may do instead.

A reader may leave a word out, put sounds in that nobody wrote, say another date or number, and
begin a sentence again. Each costs something, in nats; a path through the graph that lies best on
the sound, costs counted, says what was done.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quietleaf.listening.expected_words import DatePieces, Piece, pieces_of
from quietleaf.listening.number_words import Way

SOUNDS = ("AA", "AH", "EH", "IY", "UW", "ER", "S", "T", "K", "N", "L", "M")
"""What stands for words that nobody wrote, in ARPAbet without stress.

A dozen do: coarse steps follow foreign words well enough, hardly ever follow the right ones better
than they do themselves, and cost a third of all thirty-nine.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GraphCosts:
    """What each departure from the words costs, in nats.

    Attributes
    ----------
    leave_out : float
        A word that is not said.
    put_in : float
        To begin with sounds that are no words of these.
    sound : float
        Each sound of them.
    other : float
        Another date or number than the right one.
    again : float
        To begin a sentence again.
    nothing : float
        To say none of the words at all.
    """

    leave_out: float
    put_in: float
    sound: float
    other: float
    again: float
    nothing: float


GRAPH_COSTS = GraphCosts(
    leave_out=15.0, put_in=18.0, sound=5.0, other=45.0, again=40.0, nothing=100.0
)
"""Ours: chosen on made voices; see docs/opening-words.md."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A step from one state to another.

    Attributes
    ----------
    cost : float
        Nats, at least 0.
    word : str
        What is said on the way, lower-case; empty for a sound alone or nothing.
    sound : str
        One of `SOUNDS`, where no word is said; empty for nothing.
    piece : int or None
        Which piece of the expected words it is said for.
    """

    start: int
    stop: int
    cost: float
    word: str
    sound: str
    piece: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechGraph:
    """All that may be said, from state ``first`` to state ``last``."""

    first: int
    last: int
    arcs: tuple[Arc, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenWord:
    """A word, or a sound that is none of these words, as it was found in a recording.

    Attributes
    ----------
    word : str
        Empty for a sound.
    piece : int or None
        Which piece of the expected words it was said for.
    start_s, end_s : float
        Seconds from the start of what was heard.
    """

    word: str
    piece: int | None
    start_s: float
    end_s: float


class _Drawing:
    def __init__(self, costs: GraphCosts) -> None:
        self.costs = costs
        self.arcs: list[Arc] = []
        self.states = 0

    def state(self) -> int:
        self.states += 1
        return self.states - 1

    def arc(
        self,
        start: int,
        stop: int,
        cost: float = 0.0,
        *,
        word: str = "",
        sound: str = "",
        piece: int | None = None,
    ) -> None:
        self.arcs.append(
            Arc(start=start, stop=stop, cost=cost, word=word, sound=sound, piece=piece)
        )

    def foreign(self, at: int, cost: float) -> None:
        """Let any sounds be said at a state."""
        inside = self.state()
        for sound in SOUNDS:
            self.arc(at, inside, cost + self.costs.sound, sound=sound)
            self.arc(inside, inside, self.costs.sound, sound=sound)
        self.arc(inside, at)

    def ways(self, start: int, stop: int, ways: Sequence[Way], piece: int, cost: float) -> None:
        """Say one of some ways: what they begin with alike is one path."""
        known: dict[Way, int] = {}
        for way in ways:
            at = start
            for count, word in enumerate(way[:-1], start=1):
                if way[:count] not in known:
                    known[way[:count]] = self.state()
                    self.arc(
                        at, known[way[:count]], cost if count == 1 else 0.0, word=word, piece=piece
                    )
                at = known[way[:count]]
            self.arc(at, stop, cost if len(way) == 1 else 0.0, word=way[-1], piece=piece)

    def piece(self, start: int, stop: int, piece: Piece, index: int) -> None:
        self.ways(start, stop, piece.ways, index, 0.0)
        self.ways(start, stop, piece.others, index, self.costs.other)
        self.arc(start, stop, self.costs.leave_out)


def speech_graph(words: Sequence[Piece | DatePieces], costs: GraphCosts) -> SpeechGraph:
    """Draw the graph of some expected words, with anything before and after them."""
    drawing = _Drawing(costs)
    first = at = drawing.state()
    drawing.foreign(first, 0.0)
    sentence, sentence_state = -1, first
    index = 0
    for one, following in zip(words, [*words[1:], None], strict=True):
        opens = pieces_of([one])[0].sentence
        if opens != sentence:
            sentence, sentence_state = opens, at
        if isinstance(one, DatePieces):
            after = _date(drawing, at, one, index)
            index += len(one.pieces)
        else:
            after = drawing.state()
            drawing.piece(at, after, one, index)
            index += 1
        if following is not None and _may_break(one, following):
            drawing.foreign(after, costs.put_in)
        drawing.arc(after, sentence_state, costs.again)
        at = after
    last = drawing.state()
    drawing.arc(at, last)
    drawing.arc(first, last, costs.nothing)
    drawing.foreign(last, 0.0)
    return SpeechGraph(first=first, last=last, arcs=tuple(drawing.arcs))


def _may_break(one: Piece | DatePieces, following: Piece | DatePieces) -> bool:
    """Say whether other sounds are listened for between two pieces.

    Not among fixed words: it would double the work for little.
    """
    sides = (one, following)
    return any(isinstance(side, DatePieces) or side.kind != "word" for side in sides) or (
        pieces_of([one])[-1].sentence != pieces_of([following])[0].sentence
    )


def _date(drawing: _Drawing, start: int, date: DatePieces, first_index: int) -> int:
    """Draw a date: day before month or after it, with or without "the" and "of"."""
    begun = start
    day = first_index
    if date.weekday is not None:
        begun = drawing.state()
        drawing.piece(start, begun, date.weekday, first_index)
        day += 1
        drawing.foreign(begun, drawing.costs.put_in)
    dated = drawing.state()
    _day_then_month(drawing, begun, dated, date, day, day + 1)
    _month_then_day(drawing, begun, dated, date, day, day + 1)
    if date.year is None:
        return dated
    stop = drawing.state()
    drawing.foreign(dated, drawing.costs.put_in)
    drawing.piece(dated, stop, date.year, day + 2)
    return stop


def _day_then_month(
    drawing: _Drawing, start: int, stop: int, date: DatePieces, day: int, month: int
) -> None:
    the, said, of = drawing.state(), drawing.state(), drawing.state()
    drawing.arc(start, the)
    drawing.arc(start, the, word="the")
    drawing.piece(the, said, date.day, day)
    drawing.foreign(said, drawing.costs.put_in)
    drawing.arc(said, of)
    drawing.arc(said, of, word="of")
    drawing.piece(of, stop, date.month, month)


def _month_then_day(
    drawing: _Drawing, start: int, stop: int, date: DatePieces, day: int, month: int
) -> None:
    said, the = drawing.state(), drawing.state()
    drawing.piece(start, said, date.month, month)
    drawing.foreign(said, drawing.costs.put_in)
    drawing.arc(said, the)
    drawing.arc(said, the, word="the")
    drawing.piece(the, stop, date.day, day)
