"""Rows of likely phones."""

from __future__ import annotations

import numpy as np

from quietleaf.listening.phone_numbers import NET
from quietleaf.listening.phones import PHONES, REACH, packed_net, phone_roots, unpacked_net
from quietleaf.listening.spectra import MELS


def test_rows_have_length_1_and_forget_the_level() -> None:
    net = unpacked_net(NET)
    mels = np.random.default_rng(1).normal(-40.0, 8.0, size=(60, MELS)).astype(np.float32)
    mean = mels.mean(axis=0)
    frames = np.arange(REACH, 60 - REACH, 2)
    roots = phone_roots(mels, frames, mean, net)
    assert roots.shape == (20, PHONES)
    np.testing.assert_allclose((roots**2).sum(axis=1), 1.0, atol=1e-5)
    louder = phone_roots(mels + 6.0, frames, mean + 6.0, net)
    np.testing.assert_allclose(roots, louder, atol=1e-3)


def test_a_row_does_not_depend_on_what_is_out_of_reach() -> None:
    net = unpacked_net(NET)
    mels = np.random.default_rng(2).normal(-40.0, 8.0, size=(90, MELS)).astype(np.float32)
    mean = np.full(MELS, -40.0, dtype=np.float32)
    all_of_it = phone_roots(mels, np.array([40]), mean, net)
    part = phone_roots(mels[30 : 40 + REACH + 1], np.array([REACH]), mean, net)
    np.testing.assert_allclose(all_of_it, part, atol=1e-5)


def test_a_net_is_read_as_it_was_written() -> None:
    net = unpacked_net(NET)
    again = unpacked_net(packed_net(net))
    for wanted, weights in zip(net.weights, again.weights, strict=True):
        np.testing.assert_allclose(weights, wanted, atol=float(np.abs(wanted).max()) / 100.0)
    assert len(NET) < 200_000
