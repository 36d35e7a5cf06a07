"""What a voice says, roughly: how likely each phone is, each 20 ms, by a small net.

Two renditions of the same words give like rows, whoever speaks and however fast. The net was
taught by `bench.phone_maker`; it need not know a language to tell that it hears the same twice.
"""

from __future__ import annotations

import base64
import itertools
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.spectra import MELS

STEP = 2
"""Frames of 10 ms from one row to the next."""
REACH = 10
"""Frames that the net sees on each side, every second of them."""
SEEN = 2 * REACH // STEP + 1
PHONES = 40
"""39 phones of English, and silence last."""
_SCALE_DB = np.float32(10.0)
_MOST = np.float32(3.0)
_POWER = np.float32(0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneNet:
    """Layers one after the other: all but the last cut off below nothing.

    Attributes
    ----------
    weights : tuple of ndarray, shape (from, to), float32
        The first takes `SEEN` times 24 numbers, the last gives `PHONES`.
    offsets : tuple of ndarray, shape (to,), float32
    """

    weights: tuple[NDArray[np.float32], ...]
    offsets: tuple[NDArray[np.float32], ...]


def phone_roots(
    mels_dbov: NDArray[np.float32],
    frames: NDArray[np.int64],
    mean_dbov: NDArray[np.float32],
    net: PhoneNet,
) -> NDArray[np.float32]:
    """Give the roots of how likely each phone is.

    Parameters
    ----------
    mels_dbov : ndarray, shape (n, 24)
        Successive frames of 10 ms.
    frames : ndarray, shape (k,)
        Those of them that are asked about: at least `REACH` from either end.
    mean_dbov : ndarray, shape (24,)
        What the voice has on average; it falls out, and with it microphone and distance.

    Returns
    -------
    roots : ndarray, shape (k, `PHONES`)
        Each row has the length 1, so that the product of two is 1 if they are the same.
    """
    inner = np.clip((mels_dbov - mean_dbov) / _SCALE_DB, -_MOST, _MOST)
    seen = frames[:, np.newaxis] + np.arange(-REACH, REACH + 1, STEP)
    rows = inner[seen].reshape(frames.size, SEEN * MELS)
    for weights, offsets in zip(net.weights[:-1], net.offsets[:-1], strict=True):
        rows = np.maximum(rows @ weights + offsets, np.float32(0.0))
    rows = rows @ net.weights[-1] + net.offsets[-1]
    rows -= rows.max(axis=1, keepdims=True)
    powers = np.exp(rows)
    powers /= powers.sum(axis=1, keepdims=True)
    roots: NDArray[np.float32] = powers**_POWER
    return roots


def packed_net(net: PhoneNet) -> str:
    """Write a net as a text: whole numbers from -127 to 127 with a scale for each column.

    Base 85 of what zlib makes of the arrays.
    """
    sizes = [net.weights[0].shape[0], *(offsets.size for offsets in net.offsets)]
    parts = [np.array([len(sizes), *sizes], dtype="<u4").tobytes()]
    for weights, offsets in zip(net.weights, net.offsets, strict=True):
        scale = np.maximum(np.abs(weights).max(axis=0) / 127.0, 1e-12).astype("<f4")
        parts += [
            scale.tobytes(),
            np.rint(weights / scale).astype("i1").tobytes(),
            offsets.astype("<f4").tobytes(),
        ]
    return base64.b85encode(zlib.compress(b"".join(parts), 9)).decode()


def unpacked_net(text: str) -> PhoneNet:
    """Read what `packed_net` wrote; line ends do not count.

    Examples
    --------
    >>> one = PhoneNet(weights=(np.eye(2, dtype=np.float32),), offsets=(np.ones(2, np.float32),))
    >>> unpacked_net(packed_net(one)).weights[0].round(3).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    blob = zlib.decompress(base64.b85decode("".join(text.split())))
    count = int(np.frombuffer(blob, "<u4", 1)[0])
    sizes = [int(size) for size in np.frombuffer(blob, "<u4", count, 4)]
    at = 4 + 4 * count
    all_weights, all_offsets = [], []
    for rows, columns in itertools.pairwise(sizes):
        scale = np.frombuffer(blob, "<f4", columns, at)
        at += scale.nbytes
        whole = np.frombuffer(blob, "i1", rows * columns, at).reshape(rows, columns)
        at += whole.nbytes
        offsets = np.frombuffer(blob, "<f4", columns, at)
        at += offsets.nbytes
        all_weights.append((whole.astype(np.float32) * scale).astype(np.float32))
        all_offsets.append(offsets.astype(np.float32))
    return PhoneNet(weights=tuple(all_weights), offsets=tuple(all_offsets))
