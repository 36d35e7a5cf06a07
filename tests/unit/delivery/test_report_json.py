"""A report's facts as JSON: the way there and back."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

import numpy as np
import pytest

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import RepairPictures
from quietleaf.delivery.report import Deed, Figure, ReportFacts, ReportFile
from quietleaf.delivery.report_json import report_from_json, report_to_json
from quietleaf.errors import Damaged
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve
from quietleaf.listening.verdict import Ground
from quietleaf.units import Window
from tests.report_facts import noise_picture


def curve(count: int) -> Curve:
    """Three seconds of silence, then a slow rise."""
    step = np.arange(count)
    return Curve(power=np.where(step < 30, 0.0, 1e-5 * 1.01**step))


def facts(points: int = 100) -> ReportFacts:
    """Give a report's facts with every field in use."""
    return ReportFacts(
        title="The Hour",
        publication="The Post",
        issue_date=date(2026, 11, 25),
        readers=("Ada Fenwick", "Tomas Vale"),
        grounds=(Ground(text="One word is clipped.", weight="ear"),),
        review="none",
        figures=(
            Figure(
                name="Loudness",
                unit="LUFS",
                before=-31.2,
                after=-23.0,
                target="-23.0 ± 0.2",
                met=True,
            ),
            Figure(name="True peak", unit="dBTP", before=None, after=-1.4, decimals=2),
        ),
        convention="one channel",
        duration_s=points / 10,
        duration_before_s=points / 10 + 2.5,
        window=Window(shortest_s=225.0, longest_s=285.0),
        target_lufs=-23.0,
        ceiling_dbtp=-1.0,
        before=curve(points + 25),
        after=curve(points),
        findings=(
            Finding(
                kind="clip",
                start_s=3.5,
                end_s=3.75,
                severity="hear",
                value=12.0,
                limit=3.0,
                unit="samples",
                advice="One word is too loud.",
            ),
        ),
        chapters=(Chapter(title="The ferry", start_s=0.0, end_s=10.0),),
        done=(Deed(text="The head was trimmed.", reason="It begins on its first syllable."),),
        pictures=RepairPictures(shown=(noise_picture(),), repairs=3),
        files=(ReportFile(name="hour.mp3", what="MP3", size_bytes=12),),
        player="hour.mp3",
        source="hour.flac",
        made_at=datetime(2026, 11, 25, 18, 5, tzinfo=UTC),
        made_by="Quietleaf 0.1.0",
    )


def test_what_was_written_is_read_back() -> None:
    written = facts()
    read = report_from_json(json.loads(json.dumps(report_to_json(written), allow_nan=False)))
    for name in ReportFacts.__slots__:
        if name not in ("before", "after"):
            assert getattr(read, name) == getattr(written, name)
    for name in ("before", "after"):
        there, back = getattr(written, name), getattr(read, name)
        np.testing.assert_allclose(back.power, there.power, rtol=0.0012)  # 0.005 dB


@pytest.mark.parametrize("verdict", ["ready", "needs an ear", "read again"])
def test_a_report_from_before_there_were_grounds_keeps_its_verdict(verdict: str) -> None:
    told = report_to_json(facts())
    del told["grounds"], told["review"]
    told |= {
        "schema": "quietleaf/report/1",
        "verdict": verdict,
        "reasons": ["One word is clipped."],
    }
    read = report_from_json(told)
    assert read.verdict == verdict
    assert (read.reasons[0] == "One word is clipped.") == (verdict != "ready")


def test_a_report_of_no_length_comes_back() -> None:
    assert report_from_json(report_to_json(facts(0))).after.power.size == 0


@pytest.mark.parametrize(
    "change",
    [{"schema": "quietleaf/report/9"}, {"figures": [{"nom": 1}]}, {"made_at": "soon"}],
)
def test_facts_that_are_not_as_written_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(Damaged, match="Finish the reading again"):
        report_from_json(report_to_json(facts()) | change)
    with pytest.raises(Damaged):
        report_from_json({})
