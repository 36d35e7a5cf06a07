"""A messy reading through finishing: what was repaired is gone, and the report says so."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.finishing.plan import Plan
from quietleaf.finishing.repairs import LinesTaken, Repair
from quietleaf.work.finish_pictures import shown_repairs
from quietleaf.work.finish_programme import Finished, finish_file
from quietleaf.work.finish_request import FinishProgramme
from tests.voices import RATE_HZ, reading

AT = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


class Telling:
    clock = staticmethod(lambda: AT)
    progress = staticmethod(lambda _step, _done: None)


def messy() -> np.ndarray:
    samples = reading(seed=13, sentences=6).samples()
    samples[5 * RATE_HZ : 5 * RATE_HZ + 240] = 0.0
    samples[9 * RATE_HZ : 9 * RATE_HZ + 3_000] = 0.0
    loud = samples[2 * RATE_HZ : 3 * RATE_HZ]
    np.clip(loud, -0.5 * np.abs(loud).max(), 0.5 * np.abs(loud).max(), out=loud)
    return samples


def finish(path: Path, out: Path, plan: Path | None = None) -> Finished:
    return finish_file(FinishProgramme(source=path, out=out, plan=plan), Telling())


def sorts(repairs: tuple[Repair, ...]) -> list[tuple[str, str]]:
    return [(one.kind, one.state) for one in repairs]


def assert_what_is_shown_of_many(plan: Plan) -> None:
    """The first of each kind; and of a hum a pause, since under the voice it hardly shows."""
    layout = plan.layout
    clip, dropout = (one for one in layout.repairs if one.state == "made")
    hum = LinesTaken(
        kind="hum",
        start=0,
        stop=layout.sound_samples,
        mains_hz=50.0,
        lines=(1, 2),
        state="made",
        by="desk",
        reason="",
        measured={},
    )
    many = replace(plan, layout=replace(layout, repairs=(*[clip] * 30, dropout, hum)))
    shown = shown_repairs(many)
    assert Counter(one.repair.kind for one in shown) == {"clip": 22, "dropout": 1, "hum": 1}
    middles = [(one.start + one.stop) // 2 for one in shown if one.repair.kind == "hum"]
    assert not any(one.start <= middles[0] < one.stop for one in layout.sentences)
    assert layout.sentences[0].stop <= middles[0] < layout.sentences[-1].start


def test_what_was_repaired_is_gone_and_what_was_not_is_to_be_heard(tmp_path: Path) -> None:
    recording = tmp_path / "messy.wav"
    soundfile.write(recording, messy(), RATE_HZ, subtype="PCM_24")
    first = finish(recording, tmp_path / "one")
    assert sorts(first.plan.layout.repairs) == [
        ("clip", "made"),
        ("dropout", "made"),
        ("dropout", "left"),
    ]
    done = {deed.text: deed.reason for deed in first.report.done}
    assert (
        "flat tops before, 0 after" in done["1 moment of clipping made anew from the sound around"]
    )
    assert "5.0 ms" in done["1 dropout made anew from the sound around"]
    assert "62 ms: that is too long" in done["1 thing not repaired"]
    heard = [one.kind for one in first.report.findings if one.severity != "note"]
    assert heard == ["dropout"]
    shown = first.report.pictures.shown
    assert [one.kind for one in shown] == ["clip", "dropout"]
    assert "none is left. Level there: " in shown[0].sentence
    # What is beside a repair is as it was, at the loudness of the master.
    beside = re.findall(r"beside it −([\d.]+)\sdBov before, −([\d.]+)", shown[0].sentence)
    assert float(beside[0][0]) == pytest.approx(float(beside[0][1]), abs=0.5)

    assert_what_is_shown_of_many(first.plan)

    tree = json.loads(first.plan_path.read_text("utf-8"))
    tree["repairs"][0]["state"] = "refused"
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(tree), "utf-8")
    again = finish(recording, tmp_path / "two", edited)
    assert sorts(again.plan.layout.repairs)[0] == ("clip", "refused")
    heard = [one.kind for one in again.report.findings if one.severity != "note"]
    assert heard == ["clip", "dropout"]
    assert "as the desk wished" in " ".join(deed.text for deed in again.report.done)
