"""Sums of decision trees: what a maker has learned, as plain arrays, and a loop that asks them.

The numbers of a model are a text in a module of their own: it is installed, versioned and read like
any other code, and this room opens no files.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel

LEAF = 255
"""In place of a feature: the tree ends here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trees:
    """Trees one after the other; each begins at its root, and the left branch follows at once.

    Attributes
    ----------
    feature : ndarray, shape (n,), uint8
        Which feature a node asks for, at most 254 of them; `LEAF`: none.
    number : ndarray, shape (n,), float16
        Up to this the way goes left; of a leaf, what it adds to the score.
    right : ndarray, shape (n,), uint8
        How many nodes further the right branch begins.
    tree_nodes : ndarray, shape (t,), uint8
        Nodes of each tree. Tree ``i`` adds to score ``i % k``.
    base : ndarray, shape (k,), float32
        Where each score begins.
    """

    feature: NDArray[np.uint8]
    number: NDArray[np.float16]
    right: NDArray[np.uint8]
    tree_nodes: NDArray[np.uint8]
    base: NDArray[np.float32]


def tree_scores(features: NDArray[np.float32], trees: Trees) -> NDArray[np.float32]:
    """Add up what the trees say.

    Parameters
    ----------
    features : ndarray, shape (n, f), finite

    Returns
    -------
    scores : ndarray, shape (n, k), float32
        Logarithms of odds, or what else the maker taught.

    Examples
    --------
    One tree that tells apart at 0.5:

    >>> trees = Trees(
    ...     feature=np.array([0, LEAF, LEAF], dtype=np.uint8),
    ...     number=np.array([0.5, -1.0, 2.0], dtype=np.float16),
    ...     right=np.array([2, 0, 0], dtype=np.uint8),
    ...     tree_nodes=np.array([3], dtype=np.uint8),
    ...     base=np.zeros(1, dtype=np.float32),
    ... )
    >>> tree_scores(np.array([[0.4], [0.6]], dtype=np.float32), trees).tolist()
    [[-1.0], [2.0]]
    """
    scores = np.empty((features.shape[0], trees.base.size), dtype=np.float32)
    _walk(
        np.ascontiguousarray(features, dtype=np.float32),
        trees.feature,
        trees.number.astype(np.float32),
        trees.right,
        trees.tree_nodes,
        trees.base,
        scores,
    )
    return scores


def shares_of(scores: NDArray[np.float32]) -> NDArray[np.float32]:
    """Turn logarithms of odds into likelihoods: of each kind, or of the one that is asked for.

    Examples
    --------
    >>> shares_of(np.array([[0.0]], dtype=np.float32)).tolist()
    [[0.5]]
    >>> shares_of(np.zeros((1, 4), dtype=np.float32)).tolist()
    [[0.25, 0.25, 0.25, 0.25]]
    """
    if scores.shape[1] == 1:
        return np.reciprocal(1.0 + np.exp(-np.clip(scores, -80.0, 80.0))).astype(np.float32)
    powers = np.exp(scores - scores.max(axis=1, keepdims=True))
    shares: NDArray[np.float32] = powers / powers.sum(axis=1, keepdims=True)
    return shares


def packed(trees: Trees) -> str:
    """Write trees as a text, base 85 of what zlib makes of the arrays."""
    counts = np.array([trees.base.size, trees.tree_nodes.size, trees.feature.size], dtype="<u4")
    arrays = (
        counts,
        trees.base.astype("<f4"),
        trees.tree_nodes,
        trees.feature,
        trees.right,
        trees.number.astype("<f2"),
    )
    return base64.b85encode(zlib.compress(b"".join(a.tobytes() for a in arrays), 9)).decode()


def unpacked(text: str) -> Trees:
    """Read what `packed` wrote; line ends do not count.

    Examples
    --------
    >>> leaf = np.array([LEAF], dtype=np.uint8)
    >>> none, one = np.zeros(1, dtype=np.uint8), np.ones(1, dtype=np.uint8)
    >>> trees = Trees(
    ...     feature=leaf,
    ...     number=np.array([0.25], dtype=np.float16),
    ...     right=none,
    ...     tree_nodes=one,
    ...     base=np.ones(1, dtype=np.float32),
    ... )
    >>> unpacked(packed(trees)).number.tolist()
    [0.25]
    """
    blob = zlib.decompress(base64.b85decode("".join(text.split())))
    scores, count, nodes = (int(size) for size in np.frombuffer(blob, dtype="<u4", count=3))
    at = 12

    def take(kind: str, size: int) -> NDArray[np.generic]:
        nonlocal at
        found = np.frombuffer(blob, dtype=kind, count=size, offset=at)
        at += found.nbytes
        return found

    base = take("<f4", scores).astype(np.float32)
    tree_nodes = take("u1", count).astype(np.uint8)
    feature = take("u1", nodes).astype(np.uint8)
    right = take("u1", nodes).astype(np.uint8)
    number = take("<f2", nodes).astype(np.float16)
    return Trees(feature=feature, number=number, right=right, tree_nodes=tree_nodes, base=base)


@kernel
def _walk(
    features: NDArray[np.float32],
    feature: NDArray[np.uint8],
    number: NDArray[np.float32],
    right: NDArray[np.uint8],
    tree_nodes: NDArray[np.uint8],
    base: NDArray[np.float32],
    scores: NDArray[np.float32],
) -> None:
    for row in range(features.shape[0]):
        for k in range(base.size):
            scores[row, k] = base[k]
    root = 0
    # A tree stays in the nearest memory while all rows go through it.
    for tree in range(tree_nodes.size):
        for row in range(features.shape[0]):
            node = root
            while feature[node] != LEAF:
                asked = features[row, feature[node]]
                node += 1 if asked <= number[node] else right[node]
            scores[row, tree % base.size] += number[node]
        root += tree_nodes[tree]
