"""Every field that a plan has, and every figure in it, is explained on the page about plans."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args

import pytest

from quietleaf.booth.edits import ArticleStarted
from quietleaf.finishing import plan as plans
from quietleaf.finishing.fit_entries import PaceChange, PauseChange, ShortItem, StopPlace
from quietleaf.finishing.repairs import Repair
from quietleaf.planning.outlet import Outlet
from quietleaf.storage.reading_folder import create_reading
from quietleaf.units import Window
from quietleaf.web.measured_words import MEASURED
from quietleaf.work.finish_programme import finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.tools import Tools
from tests.finished import example_station
from tests.repaired import AT, FACTS, GAP, add_take
from tests.voices import RATE_HZ, Made

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "finishing-plan.md").read_text("utf-8")
SOURCES = [
    *(ROOT / "src" / "quietleaf" / "finishing").glob("*.py"),
    ROOT / "src" / "quietleaf" / "work" / "make_outlet.py",
]
UNITS = "db|dbov|dbfs|dbtp|s|ms|hz|lufs|lu|percent|samples"


def sections() -> dict[str, set[str]]:
    """Give the names that each section of the page explains."""
    found: dict[str, set[str]] = {}
    for part in re.split(r"^### ", PAGE, flags=re.MULTILINE)[1:]:
        head, _, body = part.partition("\n")
        explained = set(re.findall(r"`(\w+)`", body))
        for name in re.findall(r"`(\w+)`", head) or [head.strip()]:
            found[name] = explained
    return found


EXPLAINED = sections()
EVERY = EXPLAINED["In every entry"]


def names_in(value: Any) -> Iterator[str]:
    """Give every name in what a section of a plan holds."""
    if isinstance(value, dict):
        for name, one in value.items():
            yield name
            yield from names_in(one)
    elif isinstance(value, list):
        for one in value:
            yield from names_in(one)


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A real plan, of a reading in which much is wrong, with a file for a telephone."""
    made = Made(seed=31)
    made.pause(1.2)
    made.noise(0.3, -40.0)
    made.pause(0.4)
    for number in range(6):
        made.speech(1.5, -24.0 - 3.0 * (number % 2))
        made.pause(8.0 if number == 2 else 0.6)
    made.noise(0.4, -38.0, 1_500.0, 8_000.0)
    made.pause(1.0)
    samples = made.samples()
    samples[3 * RATE_HZ : 3 * RATE_HZ + GAP] = 0.0
    data = tmp_path_factory.mktemp("station")
    tools: Tools = example_station(data)
    with tools.database:
        folder = create_reading(data, FACTS, AT, "Ada")
        add_take(folder, samples)
        for at_s in (1.8, 6.0):
            mark = ArticleStarted(take=1, sample=round(at_s * RATE_HZ), title="")
            folder.append(mark, author="Ada", at=AT)
        window = Window(shortest_s=3.0, longest_s=6.0)
        request = FinishProgramme(source=FACTS.reading_id, window=window, outlets=("telephone",))
        finished = finish_programme(request, tools)
        found: dict[str, Any] = json.loads(finished.plan_path.read_text("utf-8"))
    return found


def test_every_name_of_a_real_plan_is_explained(tree: dict[str, Any]) -> None:
    assert {"fit", "cuts", "sentences", "repairs", "wave", "mp3", "outlets"} <= tree.keys()
    assert tree["fit"]["stops"]
    for section, value in tree.items():
        missing = set(names_in(value)) - EXPLAINED[section] - EVERY
        assert not missing, f"{section}: {sorted(missing)}"


@pytest.mark.parametrize(
    ("section", "kinds"),
    [
        ("fit", (plans.Fit, StopPlace)),
        ("high_pass", (plans.HighPass,)),
        ("cuts", (plans.Cut,)),
        ("room_tone", (plans.RoomTone,)),
        ("sentences", (plans.Sentence,)),
        ("fills", (plans.Fill,)),
        ("colours", (plans.Colour,)),
        ("repairs", get_args(Repair)),
        ("pauses", (PauseChange,)),
        ("pace", (PaceChange,)),
        ("items", (ShortItem,)),
        ("wave", (plans.Drive,)),
        ("mp3", (plans.Mp3, plans.Drive)),
        ("outlets", (Outlet, plans.Drive)),
    ],
)
def test_every_field_that_an_entry_can_have_is_explained(
    section: str, kinds: tuple[type, ...]
) -> None:
    names = {field.name for kind in kinds for field in fields(kind)} - {"window"}
    assert names - EXPLAINED[section] - EVERY == set()


def test_every_kind_is_named() -> None:
    named = set(re.findall(r"`([\w-]+)`", PAGE))
    assert set(plans.CUT_KINDS) <= named


def measured_in_the_code() -> set[str]:
    """Give the names of values that end in a unit, of all dictionaries written there."""
    found: set[str] = set()
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Dict):
                found |= {
                    key.value
                    for key in node.keys
                    if isinstance(key, ast.Constant) and isinstance(key.value, str)
                }
    return {name for name in found if re.fullmatch(rf"[a-z_]+_({UNITS})", name)}


def test_every_figure_has_words_on_the_desks_page_and_is_explained() -> None:
    everything = set().union(*EXPLAINED.values())
    assert set(MEASURED) - everything == set()
    written = {field.name for field in fields(plans.Layout)} | {
        *("length_s", "window_s", "difference_s", "wanted_samples", "encoder_gain_db"),
        # Of the check of joins, whose figures stay outside of plans.
        *("floor_step_db", "pause_step_db"),
    }
    assert measured_in_the_code() - set(MEASURED) - written == set()
