"""What the desk wants cut goes in the pauses around it, where nothing was planned to."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.finishing.at_places import DESK_CUT, PlaceDecision
from quietleaf.finishing.desk_cuts import desk_cuts
from quietleaf.finishing.plan import RATE_HZ, Cut
from quietleaf.finishing.structure import structure_of
from quietleaf.listening.reader_pauses import UNKNOWN
from tests.unit.finishing.planned import survey_of
from tests.voices import Held, Made


def read() -> tuple[Held, list[tuple[int, int]]]:
    made, spoken = Made(seed=4), []
    made.pause(0.6)
    for _ in range(4):
        start_s, stop_s = made.speech(1.4)
        spoken.append((round(start_s * RATE_HZ), round(stop_s * RATE_HZ)))
        made.pause(0.6)
    return Held(made.samples()), spoken


SOUND, SPOKEN = read()
STRUCTURE = structure_of(survey_of(SOUND.samples))
WISH = PlaceDecision(of="cut", kind=DESK_CUT, start=SPOKEN[1][0], stop=SPOKEN[1][1], wanted="made")


def cuts(*decisions: PlaceDecision, planned: tuple[Cut, ...] = ()) -> tuple[Cut, ...]:
    assert STRUCTURE is not None
    return desk_cuts(decisions, planned, STRUCTURE, SOUND, UNKNOWN)


def test_a_sentence_goes_whole_and_no_other_is_touched() -> None:
    (cut,) = cuts(WISH)
    assert (cut.kind, cut.state, cut.by) == ("desk", "made", "desk")
    assert SPOKEN[0][1] <= cut.start <= SPOKEN[1][0]
    assert SPOKEN[1][1] <= cut.stop <= SPOKEN[2][0]
    assert 0.2 < cut.measured["pause_s"] < 1.0


def test_what_is_planned_there_is_not_cut_twice() -> None:
    there = Cut(kind="restart", start=SPOKEN[1][0], stop=SPOKEN[2][0], reason="", measured={})
    assert cuts(WISH, planned=(there,)) == ()
    assert len(cuts(WISH, replace(WISH, kind="restart"))) == 1


def test_it_is_refused_and_taken_back_like_any_other() -> None:
    assert cuts(WISH, replace(WISH, wanted="as planned")) == ()
    twice = replace(WISH, kind="restart")
    (refused,) = cuts(twice, replace(WISH, wanted="refused"))
    assert (refused.kind, refused.state) == ("desk", "refused")
    assert cuts(replace(WISH, of="repair")) == ()


def test_in_the_midst_of_speech_nothing_is_cut_off() -> None:
    middle = (SPOKEN[2][0] + SPOKEN[2][1]) // 2
    found = cuts(replace(WISH, start=middle - 2_400, stop=middle + 2_400))
    for cut in found:
        is_whole = cut.start <= SPOKEN[2][0] and cut.stop >= SPOKEN[2][1]
        assert cut.state != "made" or is_whole
