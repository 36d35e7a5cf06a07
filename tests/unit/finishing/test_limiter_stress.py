"""The ceiling under stress, read by an independent meter: ffmpeg's `ebur128=peak=true`.

By construction nothing is over the ceiling by ITU-R BS.1770-5, Annex 2; another meter's longer
interpolation is heeded too.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.sound.true_peak import true_peak
from tests.unit.finishing.test_trial import driven
from tests.voices import RATE_HZ, reading

AIM_DBTP = -1.05
TIME_S = np.arange(3 * RATE_HZ) / RATE_HZ


def with_quiet_ends(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    edge = np.linspace(0.0, 1.0, RATE_HZ // 10)
    samples = samples.copy()
    samples[: edge.size] *= edge
    samples[-edge.size :] *= edge[::-1]
    return samples


def sweep() -> NDArray[np.float64]:
    phase = 2 * np.pi * 40.0 * 3.0 / np.log(500.0) * (500.0 ** (TIME_S / 3.0) - 1.0)
    return np.asarray(2.0 * np.sin(phase))


def impulses() -> NDArray[np.float64]:
    samples = np.zeros(TIME_S.size)
    samples[::3_001] = 3.0
    return samples


def clicks_between_samples() -> NDArray[np.float64]:
    samples = np.zeros(TIME_S.size)
    for at in range(2_000, samples.size - 2_000, 3_456):
        samples[at - 30 : at + 32] += 1.5 * np.sinc(np.arange(-30, 32) - 0.5)
    return samples


STRESS = {
    "sweep": sweep(),
    "impulses": impulses(),
    "between samples": clicks_between_samples(),
    "square": 1.4 * np.sign(np.sin(2 * np.pi * 441.0 * TIME_S)),
    "fs/4 at 45 degrees": 1.8 * np.sin(np.pi / 2 * np.arange(TIME_S.size) + np.pi / 4),
    "fs/6": 1.8 * np.sin(np.pi / 3 * np.arange(TIME_S.size) + np.pi / 3),
    "bursts": 2.0 * np.sin(2 * np.pi * 1_000 * TIME_S) * (np.sin(2 * np.pi * 3 * TIME_S) > 0.9),
    "speech 24 dB over": reading(seed=6, sentences=2).samples() * 10 ** (24 / 20) / 0.25,
}


@pytest.mark.parametrize("name", STRESS)
def test_no_peak_is_over_the_ceiling(name: str, ffmpeg: Path, tmp_path: Path) -> None:
    limited = driven(with_quiet_ends(STRESS[name]), 0.0, AIM_DBTP)
    ours = 20 * np.log10(true_peak(limited[:, np.newaxis], RATE_HZ)[0])
    assert ours <= -1.0
    # It does not hold back for nothing: something comes near the ceiling.
    assert ours >= -2.0
    path = tmp_path / "limited.wav"
    soundfile.write(path, limited, RATE_HZ, subtype="PCM_24")
    assert peak_by(ffmpeg, path) <= -1.0


def peak_by(ffmpeg: Path, path: Path) -> float:
    heard = subprocess.run(
        [
            *(str(ffmpeg), "-nostats", "-hide_banner", "-i", str(path)),
            *("-af", "ebur128=peak=true:framelog=quiet", "-f", "null", "-"),
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stderr
    found = re.search(r"Peak:\s+(-?[\d.]+) dBFS", heard)
    assert found is not None
    return float(found.group(1))
