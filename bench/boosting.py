"""Boosted trees as scikit-learn learns them, turned into `quietleaf.listening.trees`.

scikit-learn is for makers alone: what reads their numbers does not need it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.trees import LEAF, Trees


def trees_of(learned: Any) -> Trees:
    """Take the trees out of a fitted `HistGradientBoostingClassifier` (or regressor).

    Splits lie at half floats, which the features of a recording hardly tell from what was learned;
    `tree_scores` and `decision_function` are nearly, not wholly, the same.
    """
    feature: list[int] = []
    number: list[float] = []
    right: list[int] = []
    tree_nodes: list[int] = []

    def lay(nodes: NDArray[np.void], at: int) -> None:
        node = nodes[at]
        here = len(feature)
        if node["is_leaf"]:
            feature.append(LEAF)
            number.append(float(node["value"]))
            right.append(0)
            return
        feature.append(int(node["feature_idx"]))
        number.append(float(node["num_threshold"]))
        right.append(0)
        lay(nodes, int(node["left"]))
        right[here] = len(feature) - here
        lay(nodes, int(node["right"]))

    for round_of_trees in learned._predictors:
        for tree in round_of_trees:
            before = len(feature)
            lay(tree.nodes, 0)
            tree_nodes.append(len(feature) - before)
    assert max(tree_nodes) < LEAF
    return Trees(
        feature=np.array(feature, dtype=np.uint8),
        number=np.clip(number, -65_000.0, 65_000.0).astype(np.float16),
        right=np.array(right, dtype=np.uint8),
        tree_nodes=np.array(tree_nodes, dtype=np.uint8),
        base=np.asarray(learned._baseline_prediction, dtype=np.float32).ravel(),
    )


def joined_trees(models: Sequence[Trees]) -> Trees:
    """Give the mean of models with one score each, as one."""
    count = len(models)
    return Trees(
        feature=np.concatenate([one.feature for one in models]),
        number=np.concatenate(
            [
                np.where(one.feature == LEAF, one.number / np.float16(count), one.number)
                for one in models
            ]
        ).astype(np.float16),
        right=np.concatenate([one.right for one in models]),
        tree_nodes=np.concatenate([one.tree_nodes for one in models]),
        base=np.mean([one.base for one in models], axis=0, dtype=np.float32),
    )
