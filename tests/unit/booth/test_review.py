"""Which decision of the desk stands for which place."""

from __future__ import annotations

import pytest

from quietleaf.booth.edits import Decided, Decision, Remarked, StateSet, Undo
from quietleaf.booth.replay import Standing, state, timeline
from quietleaf.booth.review import review
from quietleaf.booth.timeline import Place
from quietleaf.errors import Conflict, Invalid
from tests.readings import enter, sealed, standing_of

HANDED_IN = standing_of(sealed(1, 1_000), sealed(2, 1_000), StateSet(state="handed in", note=""))
COUGH = ((1, 100), (1, 200))


def decided(
    decision: Decision, places: tuple[Place, Place] = COUGH, finding: str = "cough"
) -> Decided:
    return Decided(start=places[0], stop=places[1], finding=finding, decision=decision)


def standing_decisions(standing: Standing) -> list[tuple[int, str, Decision]]:
    return [
        (entry.number, entry.what.finding, entry.what.decision)
        for entry in review(standing).decisions
    ]


def test_of_decisions_about_one_finding_the_last_stands_and_undo_brings_back() -> None:
    first = enter(HANDED_IN, decided("leave"))
    later = enter(first, decided("read again"))
    assert standing_decisions(later) == [(6, "cough", "read again")]
    back = enter(later, Undo(of=6))
    assert standing_decisions(back) == [(5, "cough", "leave")]
    assert standing_decisions(enter(back, Undo(of=5))) == []


def test_a_finding_that_was_heard_anew_is_known_by_its_kind_and_place() -> None:
    standing = enter(HANDED_IN, decided("repair"))
    found = review(standing)
    for edges in (((1, 140), (1, 260)), ((1, 40), (1, 160)), ((1, 150), (1, 160))):
        moved = found.about("cough", *edges)
        assert moved is not None
        assert moved.what.decision == "repair"
    # The next one, which begins where this one ends, or a little before.
    assert found.about("cough", (1, 190), (1, 260)) is None
    assert found.about("cough", (1, 200), (1, 260)) is None
    assert found.about("cough", (2, 100), (2, 200)) is None
    assert found.about("hum", *COUGH) is None
    over_takes = enter(standing, decided("leave", ((1, 140), (2, 10))))
    assert standing_decisions(over_takes) == [(6, "cough", "leave")]
    again = enter(over_takes, decided("repair", ((1, 900), (2, 20))))
    again = enter(again, decided("cut", ((1, 950), (2, 90))))
    assert standing_decisions(again) == [(8, "cough", "cut")]


def test_marks_of_ones_own_lie_beside_each_other() -> None:
    sentence, word = ((1, 300), (1, 500)), ((1, 300), (1, 400))
    standing = enter(HANDED_IN, decided("read again", sentence, ""))
    standing = enter(standing, decided("read again", word, ""))
    assert standing_decisions(standing) == [(5, "", "read again"), (6, "", "read again")]
    standing = enter(standing, decided("cut", sentence, ""))
    assert standing_decisions(standing) == [(6, "", "read again"), (7, "", "cut")]
    assert [entry.number for entry in review(standing).to_read_again] == [6]


def test_they_come_in_the_order_of_their_places() -> None:
    standing = enter(HANDED_IN, decided("leave", ((2, 0), (2, 50))))
    standing = enter(standing, decided("cut", ((1, 900), (1, 950)), "restart"))
    standing = enter(standing, Remarked(place=(2, 3), text="A good voice for this."))
    standing = enter(standing, Remarked(place=(1, 3), text="Clear."))
    assert [number for number, *_ in standing_decisions(standing)] == [6, 5]
    assert [one.what.text for one in review(standing).observations] == [
        "Clear.",
        "A good voice for this.",
    ]


def test_what_is_heard_and_the_state_stay_as_they_are() -> None:
    standing = enter(enter(HANDED_IN, decided("cut")), Remarked(place=(1, 3), text="Clear."))
    assert timeline(standing) == timeline(HANDED_IN)
    assert state(standing) == "handed in"


def test_a_decision_on_what_another_has_changed_is_refused_and_an_observation_is_not() -> None:
    changed = enter(HANDED_IN, decided("leave"))
    with pytest.raises(Conflict, match="Ada made entry 5 meanwhile"):
        enter(changed, decided("cut"), revision=4)
    enter(changed, Remarked(place=(1, 3), text="Clear."), revision=4)


def test_of_a_cleared_reading_nothing_is_decided() -> None:
    cleared = enter(HANDED_IN, StateSet(state="cleared", note=""))
    for what in (decided("cut"), Remarked(place=(1, 3), text="Clear.")):
        with pytest.raises(Conflict, match="Return it first"):
            enter(cleared, what)


@pytest.mark.parametrize(
    ("places", "match"),
    [
        (((1, 5), (1, 5)), "in the order of the reading"),
        (((2, 5), (1, 9)), "in the order of the reading"),
        (((1, 5), (1, 1_001)), "1000 samples; sample 1001"),
        (((1, 5), (3, 9)), "2 takes; a place in take 3"),
    ],
)
def test_places_that_do_not_hold_together_are_refused(
    places: tuple[Place, Place], match: str
) -> None:
    with pytest.raises(Invalid, match=match):
        enter(HANDED_IN, decided("cut", places))
