"""Percentiles, beside numpy's own."""

from __future__ import annotations

import numpy as np

from quietleaf.listening.percentiles import percentiles


def test_they_are_those_of_numpy() -> None:
    draw = np.random.default_rng(8)
    for shape in ((1,), (2,), (7, 12), (3, 5, 200)):
        values = draw.normal(size=shape)
        wanted = np.percentile(values, (0.0, 5.0, 30.0, 95.0, 100.0), axis=-1)
        np.testing.assert_allclose(percentiles(values, (0.0, 5.0, 30.0, 95.0, 100.0)), wanted)
