"""What kinds of sound are taught from: sessions with their truth; trees as they were learned."""

from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from bench.boosting import trees_of
from bench.kind_sessions import KnownUnits, known_units
from bench.proving.made_pieces import made_pieces
from bench.proving.pieces import Pieces
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.trees import packed, tree_scores, unpacked

pytestmark = pytest.mark.bench


def test_a_session_is_known_and_the_same_again() -> None:
    one, again = _session(clean=False), _session(clean=False)
    assert one.features.tobytes() == again.features.tobytes()
    assert np.isfinite(one.features).all()
    told = {KINDS[kind] for kind in one.kind}
    assert "speech" in told
    assert len(told & {"breath", "cough", "rustle", "click", "noise"}) >= 2


def test_a_clean_session_holds_nothing_else() -> None:
    assert {KINDS[kind] for kind in _session(clean=True).kind} <= {"speech", "room"}


def test_learned_trees_keep_their_order() -> None:
    fields = [
        ("is_leaf", "u1"),
        ("feature_idx", "i8"),
        ("num_threshold", "f8"),
        ("left", "u4"),
        ("right", "u4"),
        ("value", "f8"),
    ]
    nodes = np.array(
        [
            (0, 1, 0.5, 2, 1, 0.0),  # the left branch need not come first
            (1, 0, 0.0, 0, 0, 7.0),
            (0, 0, -1.0, 3, 4, 0.0),
            (1, 0, 0.0, 0, 0, 1.0),
            (1, 0, 0.0, 0, 0, 2.0),
        ],
        dtype=fields,
    )
    leaf = np.array([(1, 0, 0.0, 0, 0, 0.25)], dtype=fields)
    learned = SimpleNamespace(
        _predictors=[[SimpleNamespace(nodes=nodes), SimpleNamespace(nodes=leaf)]],
        _baseline_prediction=np.array([[10.0, 20.0]]),
    )
    trees = unpacked(packed(trees_of(learned)))
    features = np.array([[-2.0, 0.0], [0.0, 0.0], [0.0, 1.0]], dtype=np.float32)
    assert tree_scores(features, trees).tolist() == [[11.0, 20.25], [12.0, 20.25], [17.0, 20.25]]


@cache
def _pieces() -> Pieces:
    return made_pieces()


def _session(*, clean: bool) -> KnownUnits:
    draw = np.random.default_rng(3)
    return known_units(_pieces(), "made-1", 20.0, draw, clean=clean)
