"""The scorer on findings set by hand: what is right, wrong, and open."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from bench.proving.labels import Label
from bench.proving.made_pieces import made_pieces
from bench.proving.mess import DENSE
from bench.proving.recordings import load_pieces
from bench.proving.scores import Heard, Score, score
from bench.proving.suites import Planned
from bench.proving.table import disfluent_lines, judge, suite_lines, wrong_lines

HOUR_S = 3600.0


def tries(*points: tuple[float, float]) -> list[Label]:
    """Label a chain of false starts by the pauses before each try and before what is read again."""
    return [
        Label(
            kind="restart",
            start_s=here[1],
            end_s=then[1],
            detail={"pause_before_s": here, "pause_again_s": then, "chain": 1, "attempt": index},
        )
        for index, (here, then) in enumerate(pairwise(points))
    ]


def restart(start_s: float, end_s: float, value: float | None = None) -> Heard:
    return Heard(kind="restart", start_s=start_s, end_s=end_s, severity="fix", value=value)


ONE = tries((9.0, 10.0), (12.0, 13.0))
TWO = tries((9.0, 10.0), (12.0, 13.0), (16.0, 17.0))


@pytest.mark.parametrize(
    ("cut", "right"),
    [
        ((9.5, 12.5), True),
        ((8.5, 11.5), True),
        ((10.05, 13.05), True),
        ((8.3, 12.5), False),
        ((10.3, 12.5), False),
        ((9.5, 11.3), False),
        ((9.5, 13.3), False),
        ((12.5, 9.5), False),
    ],
)
def test_ends_of_a_cut(cut: tuple[float, float], right: bool) -> None:
    row = score(ONE, [restart(*cut)], length_s=HOUR_S).rows["restart"]
    assert (row.labels, row.found, row.findings, row.right) == (1, int(right), 1, int(right))
    assert row.precision == float(right)


def test_a_chain_is_cut_at_once_or_piece_by_piece() -> None:
    at_once = score(TWO, [restart(9.5, 16.5)], length_s=HOUR_S).rows["restart"]
    assert (at_once.found, at_once.labels, at_once.right) == (2, 2, 1)
    pieces = [restart(9.5, 12.5), restart(12.5, 16.5)]
    assert score(TWO, pieces, length_s=HOUR_S).rows["restart"].found == 2
    last = score(TWO, [restart(12.5, 16.5)], length_s=HOUR_S).rows["restart"]
    assert last.recall == 0.5


def test_what_is_only_to_be_heard_is_no_fix() -> None:
    heard = Heard(kind="restart", start_s=9.5, end_s=12.5, severity="hear")
    rows = score(ONE, [heard], length_s=HOUR_S).rows
    assert rows["restart"].recall == 1.0
    assert rows["restart fix"].recall == 0.0


def test_edges_and_recall_at_a_precision() -> None:
    found = [restart(8.8, 12.5, 0.9), restart(40.0, 50.0, 0.7)]
    row = score(ONE, found, length_s=HOUR_S).rows["restart"]
    assert row.edge_s(100.0) == pytest.approx(0.2)
    assert row.recall_at(0.97) == (1.0, 0.9)
    assert Score(labels=1, values=((0.5, 0), (0.4, 1))).recall_at(0.97) is None


def test_right_near_wrong_kind_and_notes() -> None:
    labels = [
        Label(kind="cough", start_s=5.0, end_s=5.5),
        Label(kind="click", start_s=20.0, end_s=20.02),
        Label(kind="breath-natural", start_s=30.0, end_s=30.3),
        Label(kind="speech", start_s=31.0, end_s=33.0, detail={"role": "read"}),
    ]
    findings = [
        Heard(kind="cough", start_s=5.7, end_s=6.0),
        Heard(kind="rustle", start_s=20.0, end_s=20.1),
        Heard(kind="breath", start_s=30.0, end_s=30.3),
        Heard(kind="noise", start_s=60.0, end_s=61.0, severity="note"),
    ]
    told = score(labels, findings, length_s=HOUR_S)
    assert told.rows["cough"].f1 == 1.0
    assert told.rows["click"].f1 == 0.0
    assert told.rows["rustle"].wrong == 1
    assert told.rows["breath"].wrong == 1
    assert told.rows["noise"].wrong == 1
    assert told.rows["any noise"] == Score(labels=2, found=2, findings=4, right=2)
    assert told.wrong_an_hour == 2.0
    assert [(one.kind, there) for one, there in told.wrong] == [
        ("noise", "pause"),
        ("breath", "breath-natural"),
        ("rustle", "click"),
    ]


def test_what_is_near_is_one() -> None:
    labels = [
        Label(kind="click", start_s=1.0, end_s=1.1),
        Label(kind="click", start_s=1.3, end_s=1.4),
    ]
    findings = [Heard(kind="click", start_s=at, end_s=at + 0.02) for at in (1.0, 1.2, 1.35)]
    assert score(labels, findings, length_s=HOUR_S).rows["click"] == Score(
        labels=1, found=1, findings=1, right=1
    )


def test_what_is_open_counts_nowhere() -> None:
    labels = [
        Label(kind="noise", start_s=10.0, end_s=20.0, detail={"bed": "fan"}),
        Label(kind="level-step", start_s=30.0, end_s=33.0, detail={"what": "tone"}),
        Label(kind="room", start_s=0.0, end_s=60.0),
        Label(kind="pause", start_s=40.0, end_s=43.5),
        Label(kind="pause", start_s=50.0, end_s=52.6),
    ]
    findings = [
        Heard(kind="hum", start_s=10.0, end_s=20.0),
        Heard(kind="level-step", start_s=30.0, end_s=33.0),
        Heard(kind="echo", start_s=3.0, end_s=9.0),
        Heard(kind="dead-air", start_s=40.0, end_s=43.5),
        Heard(kind="dead-air", start_s=49.7, end_s=52.8, severity="note"),
        Heard(kind="noise", start_s=0.0, end_s=60.0),
    ]
    told = score(labels, findings, length_s=60.0)
    assert told.wrong_an_hour == 0.0
    assert told.rows["noise"] == Score(labels=1)
    assert told.rows["dead-air"] == Score()
    assert told.by_sort == {"level-step tone": Score(labels=1, found=1)}


def test_scores_add_up() -> None:
    one = score(ONE, [restart(9.5, 12.5)], length_s=60.0)
    both = one + score(ONE, [restart(1.0, 2.0)], length_s=60.0)
    assert both.length_s == 120.0
    assert both.rows["restart"].f1 == 0.5
    assert both.wrong_an_hour == 30.0


@pytest.mark.bench
def test_a_table_is_set_without_recordings() -> None:
    pieces = made_pieces()
    mess = replace(DENSE, restarts=6.0, dropouts=4.0)
    plans = [Planned(suite="dense", row="made-1", voice="made-1", mess=mess, seed=3)]
    judged = list(judge(pieces, plans, 40.0, 16_000))
    lines = suite_lines("dense", judged)
    assert any(line.split()[:1] == ["dropout"] for line in lines)
    assert any(line.split()[:2] == ["restart", "warped"] for line in lines)
    assert disfluent_lines(pieces) == []

    def everywhere(samples: object, rate: int) -> list[Heard]:
        return [Heard(kind="echo", start_s=1.0, end_s=2.0)]

    assert (
        "echo 1.00-2.00 s" in wrong_lines(list(judge(pieces, plans, 60.0, 16_000, everywhere)))[0]
    )


@pytest.mark.bench
def test_real_stumbles_are_listed(recordings: Path) -> None:
    def nothing(samples: object, rate: int) -> list[Heard]:
        return []

    lines = disfluent_lines(load_pieces(recordings), nothing)
    assert len(lines) == 46
    assert any("mfa_cutoff " in line for line in lines)
