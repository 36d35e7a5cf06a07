"""What of a reading the desk can decide about, and what it decided already."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from quietleaf.booth.corrections import followed
from quietleaf.booth.edits import Decision, Patch
from quietleaf.booth.replay import Standing
from quietleaf.booth.review import DecisionEntry, Review, review
from quietleaf.booth.timeline import Place
from quietleaf.finishing.assembly import kept_ranges
from quietleaf.finishing.at_places import can_be_made
from quietleaf.finishing.plan import RATE_HZ, Cut, Layout
from quietleaf.listening.findings import Finding, Severity
from quietleaf.listening.verdict import stops
from quietleaf.listening.words_check import WordsFinding, words_stop
from quietleaf.planning.programme import ReviewDepth
from quietleaf.work.heard_sound import HeardSound

OPENING, CLOSING = "opening-words", "closing-words"
"""Kinds of what was found in the fixed words, as a decision names them."""
_REPAIRED = frozenset(
    {"clip", "dropout", "hum", "noise", "breath", "rustle", "click", "pop", "cough"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing to decide about.

    Attributes
    ----------
    finding : str
        Its kind as a decision names it; empty for a mark of one's own.
    of : Finding or WordsFinding or None
        None for a mark of one's own, and for what was found once and is not any more.
    severity : {"fix", "hear", "note"}
        Of a decision without a finding: ``hear``.
    start_s, end_s : float
        Where it is in what is heard.
    hear_s : tuple of (float, float)
        What to play of it: from a sentence before it on.
    start, stop : Place
        Where it is in the takes.
    choices : tuple of Decision
        What can be decided, the likeliest first.
    out_s : float
        So much of it was cut out already, and is not in what is heard.
    can_hear_cut : bool
        How it sounds cut can be played.
    stops : bool
        It keeps a reading from going out even where nobody reviews it.
    is_second_look : bool
        It was read again, and is to be heard once more: where it is heard is what was read.
    decided : DecisionEntry or None
        None where nobody decided yet.
    is_made : bool
        What was decided is as it should be in what is heard.
    """

    finding: str
    of: Finding | WordsFinding | None
    severity: Severity
    start_s: float
    end_s: float
    hear_s: tuple[float, float]
    start: Place
    stop: Place
    choices: tuple[Decision, ...]
    out_s: float = 0.0
    can_hear_cut: bool = False
    stops: bool = False
    is_second_look: bool = False
    decided: DecisionEntry | None = None
    is_made: bool = True

    @property
    def key(self) -> str:
        """What names it on a page: the same as long as it is where it is."""
        (take, start), (_, stop) = self.start, self.stop
        name = "second-look" if self.is_second_look else self.finding or "mark"
        return f"{name}-{take}-{start}-{stop}"

    def asks(self, review: ReviewDepth) -> bool:
        """Say whether it must be decided about before a reading is cleared."""
        if self.severity == "note":
            return False
        return self.stops or review != "none"


def things_to_decide(heard: HeardSound, standing: Standing) -> tuple[Thing, ...]:
    """Gather them, in the order in which they are heard.

    What was cut out already is among them, notes too. A decision about what is not found any more
    is there as long as something follows from it: a sentence to be read again, a cut or a repair
    that is not made.
    """
    read = followed(standing)
    decided = review(standing)
    # What was read again is decided about anew, and so is whatever is found there now.
    open_to = replace(
        decided, decisions=tuple(one for one in decided.decisions if one.number not in read)
    )
    things = [*_of_findings(heard, open_to), *_of_cuts(heard, open_to)]
    things += [
        _second_look(entry, read[entry.number], heard)
        for entry in decided.decisions
        if entry.number in read
    ]
    told = {thing.decided.number for thing in things if thing.decided is not None}
    things += [
        thing
        for entry in open_to.decisions
        if entry.number not in told
        and ((thing := _of_decision(entry, heard)).finding == "" or not thing.is_made)
    ]
    # Where the master's own hearing and the check of its joins found the same, it is one thing.
    by_key = {thing.key: thing for thing in reversed(things)}
    return tuple(sorted(by_key.values(), key=lambda thing: (thing.start_s, thing.end_s)))


def _of_findings(heard: HeardSound, decided: Review) -> Iterator[Thing]:
    found: list[tuple[str, Finding | WordsFinding, bool]] = [
        (one.kind, one, stops(one)) for one in heard.findings
    ]
    if heard.words is not None:
        for name, part in ((OPENING, heard.words.opening), (CLOSING, heard.words.closing)):
            if part is not None:
                found += [(name, one, words_stop(part, one)) for one in part.findings]
    for name, one, is_stopping in found:
        sound = heard.sound_range(one.start_s, one.end_s)
        start, stop = heard.places.range_of(*sound)
        entry = decided.about(name, start, stop)
        layout = heard.plan.layout if heard.plan else None
        yield Thing(
            finding=name,
            of=one,
            severity=one.severity,
            start_s=one.start_s,
            end_s=one.end_s,
            hear_s=heard.hear_range(one.start_s, one.end_s),
            start=start,
            stop=stop,
            choices=_choices(name, sound, layout),
            can_hear_cut=_can_hear_cut(name, sound, layout),
            stops=is_stopping,
            decided=entry,
            is_made=entry is None or _is_made(entry, sound, layout),
        )


def _of_cuts(heard: HeardSound, decided: Review) -> Iterator[Thing]:
    """Give the first tries that finishing cut out by itself."""
    if heard.plan is None:
        return
    layout = heard.plan.layout
    for cut in layout.cuts:
        if cut.kind != "restart" or cut.state != "made":
            continue
        start, stop = heard.places.range_of(cut.start, cut.stop)
        start_s, end_s = heard.seconds(start, stop)
        entry = decided.about("restart", start, stop)
        yield Thing(
            finding="restart",
            of=None,
            severity="note",
            start_s=start_s,
            end_s=end_s,
            hear_s=heard.hear_range(start_s, end_s),
            start=start,
            stop=stop,
            choices=("cut", "leave", "read again"),
            out_s=(cut.stop - cut.start) / RATE_HZ,
            can_hear_cut=True,
            decided=entry,
            is_made=entry is None or entry.what.decision == "cut",
        )


def _of_decision(entry: DecisionEntry, heard: HeardSound) -> Thing:
    what = entry.what
    start_s, end_s = heard.seconds(what.start, what.stop)
    sound = heard.sound_samples(what.start, what.stop)
    layout = heard.plan.layout if heard.plan else None
    return Thing(
        finding=what.finding,
        of=None,
        severity="hear",
        start_s=start_s,
        end_s=end_s,
        hear_s=heard.hear_range(start_s, end_s),
        start=what.start,
        stop=what.stop,
        choices=_choices(what.finding, sound, layout),
        can_hear_cut=_can_hear_cut(what.finding, sound, layout),
        decided=entry,
        is_made=_is_made(entry, sound, layout),
    )


def _second_look(entry: DecisionEntry, patch: Patch, heard: HeardSound) -> Thing:
    start_s, end_s = heard.seconds(patch.begin, patch.until)
    return Thing(
        finding=entry.what.finding,
        of=None,
        severity="hear",
        start_s=start_s,
        end_s=end_s,
        hear_s=heard.hear_range(start_s, end_s),
        start=entry.what.start,
        stop=entry.what.stop,
        choices=("leave", "read again"),
        is_second_look=True,
    )


def _choices(finding: str, sound: tuple[int, int], layout: Layout | None) -> tuple[Decision, ...]:
    """Say what can be decided: of repairs and cuts only what finishing knows how to make."""
    if finding == "":
        return ("read again", "cut")
    if finding == "restart" or (finding == "dead-air" and _is_shortened(sound, layout)):
        return ("cut", "leave", "read again")
    if finding in _REPAIRED and _is_mended(finding, sound, layout):
        return ("leave", "repair", "read again")
    return ("leave", "read again")


def _is_shortened(sound: tuple[int, int], layout: Layout | None) -> bool:
    return layout is None or any(
        cut.kind == "dead-air" and _meet(sound, (cut.start, cut.stop)) for cut in layout.cuts
    )


def _is_mended(finding: str, sound: tuple[int, int], layout: Layout | None) -> bool:
    return layout is None or any(
        one.kind == finding
        and _meet(sound, (one.start, one.stop))
        and (one.state == "made" or can_be_made(one))
        for one in layout.repairs
    )


def _is_made(entry: DecisionEntry, sound: tuple[int, int], layout: Layout | None) -> bool:
    """Say whether what was decided is carried out in what is heard."""
    match entry.what.decision:
        case "leave":
            return True
        case "read again":
            return False
        case "cut":
            return layout is not None and _is_cut(sound, layout)
        case "repair":
            return layout is not None and any(
                one.state == "made"
                and one.kind == entry.what.finding
                and _meet(sound, (one.start, one.stop))
                for one in layout.repairs
            )


def _is_cut(sound: tuple[int, int], layout: Layout) -> bool:
    """Say whether most of a range is out, or the desk had some of it cut, as of a silence."""
    start, stop = sound
    kept = sum(max(0, min(b, stop) - max(a, start)) for a, b in kept_ranges(layout))
    return 2 * kept < stop - start or any(
        cut.by == "desk" and cut.state == "made" and _meet(sound, (cut.start, cut.stop))
        for cut in layout.cuts
    )


def _can_hear_cut(finding: str, sound: tuple[int, int], layout: Layout | None) -> bool:
    may_be_cut = finding in ("restart", "")
    return may_be_cut and layout is not None and cut_at(sound, layout) is not None


def cut_at(sound: tuple[int, int], layout: Layout) -> Cut | None:
    """Give the cut of what was read twice, or of what the desk wants cut, at a place."""
    for cut in layout.cuts:
        if cut.kind in ("restart", "desk") and _meet(sound, (cut.start, cut.stop)):
            return cut
    return None


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]
