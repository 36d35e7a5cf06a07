"""What the desk wants cut where nothing was planned to be: joined in the pauses around it."""

from __future__ import annotations

from collections.abc import Sequence

from quietleaf.finishing.at_places import DESK_CUT, PlaceDecision, decided_at
from quietleaf.finishing.plan import Cut
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.restart_cuts import cut_place, pause_before
from quietleaf.listening.reader_pauses import ReaderPauses
from quietleaf.listening.structure import Structure


def desk_cuts(
    decisions: Sequence[PlaceDecision],
    planned: Sequence[Cut],
    structure: Structure,
    sound: Sound,
    pauses: ReaderPauses,
) -> tuple[Cut, ...]:
    """Give a cut for each place that is to go and that no planned one meets.

    Parameters
    ----------
    planned : sequence of Cut
        Those of what was read twice, as they are decided.

    Returns
    -------
    cuts : tuple of Cut
        Where there is no quiet place to join, the cut is left: no sentence is cut off.
    """
    cuts: list[Cut] = []
    for one in decisions:
        if one.of != "cut" or one.wanted != "made" or one.kind not in ("restart", DESK_CUT):
            continue
        standing = decided_at(decisions, "cut", one.kind, one.start, one.stop)
        met = [cut for cut in (*planned, *cuts) if cut.start < one.stop and one.start < cut.stop]
        if standing != one or met:
            continue
        refused = decided_at(decisions, "cut", DESK_CUT, one.start, one.stop)
        is_refused = refused is not None and refused.wanted == "refused"
        start = pause_before(structure, one.start)
        place = cut_place(start, one.stop, structure, sound, pauses)
        if place is None:
            cuts.append(
                Cut(
                    kind="desk",
                    start=one.start,
                    stop=one.stop,
                    reason="this was to go, and there is no quiet place to join: it stays",
                    measured={},
                    state="refused" if is_refused else "left",
                    by="desk",
                )
            )
            continue
        cuts.append(
            Cut(
                kind="desk",
                start=place.back,
                stop=place.resume,
                reason=f"this goes, and the pause is {place.pause_s:.2f} s",
                measured={
                    "pause_s": round(place.pause_s, 3),
                    "wanted_s": round(place.wanted_s, 3),
                },
                state="refused" if is_refused else "made",
                by="desk",
            )
        )
    return tuple(cuts)
