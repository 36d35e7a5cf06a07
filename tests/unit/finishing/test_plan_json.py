"""The plan as a file: readable, read back as it was, and strict."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from quietleaf.errors import Invalid
from quietleaf.finishing.plan_json import SCHEMA, plan_of_text, plan_to_text
from quietleaf.units import Window
from tests.unit.finishing.planned import plan_of
from tests.unit.finishing.test_evening import sentences_at
from tests.unit.finishing.test_pauses import with_dead_air

MADE, _, _ = with_dead_air(6.0, noise_at_s=2.5)
PLAN = plan_of(MADE.samples(), "-18", window=Window(shortest_s=10.0, longest_s=20.0))
TEXT = plan_to_text(PLAN)
ENDLESS = {
    "place": "head",
    "samples": 10**12,
    "seed": 0,
    "quiet": [],
    "reason": "",
    "measured": {},
}


def test_it_is_read_back_as_it_was() -> None:
    assert plan_of_text(TEXT) == PLAN
    assert plan_to_text(plan_of_text(TEXT)) == TEXT


def test_gains_and_no_window_are_read_back_too() -> None:
    plan = plan_of(sentences_at([-20.0] * 5 + [-27.0] * 5).samples(), dual_mono=True)
    assert plan_of_text(plan_to_text(plan)) == plan


def test_every_entry_has_its_reason_and_what_was_measured() -> None:
    tree = json.loads(TEXT)
    assert tree["schema"] == SCHEMA == "quietleaf/plan/1"
    assert {cut["kind"] for cut in tree["cuts"]} >= {"head", "dead-air", "tail"}
    for entry in [*tree["cuts"], *tree["room_tone"], tree["high_pass"], tree["wave"]]:
        assert entry["reason"]
        assert entry["measured"]
    for sentence in tree["sentences"]:
        assert sentence["reason"]
        assert sentence["loudness_lufs"] < 0.0


def test_it_can_be_read_by_people() -> None:
    lines = TEXT.splitlines()
    assert max(map(len, lines)) < 420
    (line,) = [line for line in lines if '"dead-air"' in line]
    assert '"at": "0:' in line
    assert "s without speech" in line


def set_to(*path: str | int, value: object) -> Callable[[Any], None]:
    def change(tree: Any) -> None:
        for step in path[:-1]:
            tree = tree[step]
        tree[path[-1]] = value

    return change


def dropped(*path: str | int) -> Callable[[Any], None]:
    def change(tree: Any) -> None:
        for step in path[:-1]:
            tree = tree[step]
        del tree[path[-1]]

    return change


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (set_to("schema", value="quietleaf/plan/9"), "reads 'quietleaf/plan/1'"),
        (dropped("schema"), "schema is None"),
        (dropped("cuts"), "lacks cuts"),
        (set_to("cuts", value=5), "plan.cuts is not a list"),
        (set_to("cuts", 0, "kind", value="nap"), r"cuts\[0\].kind is 'nap', not one of head"),
        (set_to("cuts", 0, "stop", value=-4), r"cuts\[0\].stop is -4"),
        (set_to("cuts", 0, "stop", value=1.5), "not a whole number"),
        (set_to("cuts", 0, "start", value=10**12), "before it begins"),
        (set_to("cuts", 0, "stop", value=10**12), "past the end"),
        (set_to("cuts", 0, "why", value="x"), "has why, unknown here"),
        (set_to("loud", value=True), "plan has loud, unknown here"),
        (set_to("wave", "gain_db", value="2"), "wave.gain_db is '2', not a number"),
        (set_to("wave", "gain_db", value=True), "not a number"),
        (set_to("wave", "gain_db", value=1e6), "outside -100 to 100"),
        (set_to("wave", "aim_dbtp", value=3.0), "outside -60 to 0"),
        (set_to("wave", "reason", value=4), "not a text"),
        (set_to("target", "dual_mono", value=1), "not true or false"),
        (set_to("high_pass", "order", value=2), "order is 2"),
        (set_to("high_pass", "measured", "dc", value=None), "measured.dc is None"),
        (set_to("mp3", "drive", value=[]), "mp3.drive is not an entry"),
        (set_to("sentences", 1, "start", value=0), r"sentences\[1\] overlaps"),
        (set_to("sentences", 0, "gain_db", value=99.0), "outside -60 to 60"),
        (set_to("fit", "window_s", value=[1.0]), "shortest and a longest"),
        (set_to("fit", "verdict", value="maybe"), "not one of fits"),
        (set_to("room_tone", value=[{}]), r"room_tone\[0\] lacks quiet"),
        (set_to("join_samples", value=0), "join_samples is 0"),
        (set_to("cuts", 0, "reason", value="\ud800"), "reason has half a character in it"),
        (set_to("wave", "measured", value={"\ud800": 1.0}), "a name with half a character in it"),
        (set_to("room_tone", value=[ENDLESS]), "hours longer than its sound"),
    ],
)
def test_what_does_not_hold_together_is_refused(
    change: Callable[[Any], None], sentence: str
) -> None:
    tree = json.loads(TEXT)
    change(tree)
    with pytest.raises(Invalid, match=sentence):
        plan_of_text(json.dumps(tree))


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", "nonsense", '{"schema": NaN}', "5", "[" * 100_000]
)
def test_what_is_no_plan_is_refused(text: str) -> None:
    with pytest.raises(Invalid, match="finishing plan has to hold together"):
        plan_of_text(text)


def test_cuts_may_not_leave_nothing_nor_crumbs() -> None:
    tree = json.loads(TEXT)
    whole = tree["sound_samples"]
    tree["cuts"] = [{**tree["cuts"][0], "start": 0, "stop": whole}]
    with pytest.raises(Invalid, match="leave nothing"):
        plan_of_text(json.dumps(tree))
    tree["cuts"][0]["stop"] = 50_000
    tree["cuts"].append({**tree["cuts"][0], "start": 50_100, "stop": 60_000})
    with pytest.raises(Invalid, match="shorter than a join"):
        plan_of_text(json.dumps(tree))
