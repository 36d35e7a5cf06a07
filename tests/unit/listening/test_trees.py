"""Trees: the way through them by hand, several scores, and there and back through a text."""

import numpy as np

from quietleaf.listening.trees import LEAF, Trees, packed, shares_of, tree_scores, unpacked

# Two trees for each of two scores. The first: x0 <= 1 ? (x1 <= -2 ? 1 : 2) : 4.
TREES = Trees(
    feature=np.array([0, 1, LEAF, LEAF, LEAF, LEAF, 1, LEAF, LEAF, LEAF], dtype=np.uint8),
    number=np.array([1, -2, 1, 2, 4, 10, 0, 0.5, 0.25, 20], dtype=np.float16),
    right=np.array([4, 2, 0, 0, 0, 0, 2, 0, 0, 0], dtype=np.uint8),
    tree_nodes=np.array([5, 1, 3, 1], dtype=np.uint8),
    base=np.array([100.0, 200.0], dtype=np.float32),
)


def test_each_way_ends_where_it_must() -> None:
    features = np.array([[1.0, -2.0], [1.0, -1.9], [1.1, -2.0], [0.0, 0.1]], dtype=np.float32)
    scores = tree_scores(features, TREES)
    assert scores[:, 0].tolist() == [101.5, 102.5, 104.5, 102.25]
    assert scores[:, 1].tolist() == [230.0] * 4


def test_nothing_asked_gives_nothing() -> None:
    assert tree_scores(np.empty((0, 2), dtype=np.float32), TREES).shape == (0, 2)


def test_a_text_holds_all_of_it() -> None:
    text = packed(TREES)
    again = unpacked(text[:20] + "\n" + text[20:] + "\n")
    for name in ("feature", "number", "right", "tree_nodes", "base"):
        kept, was = getattr(again, name), getattr(TREES, name)
        assert kept.dtype == was.dtype
        assert kept.tobytes() == was.tobytes()


def test_shares_add_up_however_great_the_scores() -> None:
    shares = shares_of(np.array([[1000.0, 1000.0, -1000.0]], dtype=np.float32))
    assert shares.tolist() == [[0.5, 0.5, 0.0]]
    assert shares_of(np.array([[1000.0], [-1000.0]], dtype=np.float32)).round(6).tolist() == [
        [1.0],
        [0.0],
    ]
