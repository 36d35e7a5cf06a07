"""The band-pass beside a general-purpose library's."""

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, sosfreqz

from quietleaf.sound.band_pass import band_pass_sections, run_sections


@pytest.mark.parametrize("order", [2, 4, 6])
@pytest.mark.parametrize(("low_hz", "high_hz", "rate_hz"), [(18, 65, 1000.0), (20, 400, 8000.0)])
def test_it_passes_what_the_library_passes(
    order: int, low_hz: float, high_hz: float, rate_hz: float
) -> None:
    ours = band_pass_sections(low_hz, high_hz, rate_hz, order)
    theirs = butter(order, (low_hz, high_hz), "bandpass", fs=rate_hz, output="sos")
    with_a0 = np.insert(ours, 3, 1.0, axis=1)
    hz = np.geomspace(low_hz / 4, high_hz * 3, 60)
    found, wanted = (abs(sosfreqz(one, hz, fs=rate_hz)[1]) for one in (with_a0, theirs))
    assert found == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def test_blocks_give_what_the_whole_gives() -> None:
    samples = np.random.default_rng(1).normal(size=(2, 3_000))
    sections = band_pass_sections(18.0, 65.0, 1000.0, 4)
    whole = run_sections(samples, sections, np.zeros((4, 2, 2)))
    state = np.zeros((4, 2, 2))
    parts = [run_sections(part, sections, state) for part in np.split(samples, [1, 700], axis=1)]
    assert np.array_equal(np.concatenate(parts, axis=1), whole)
    theirs = sosfilt(butter(4, (18.0, 65.0), "bandpass", fs=1000.0, output="sos"), samples, axis=1)
    assert whole == pytest.approx(theirs, rel=1e-6, abs=1e-9)
