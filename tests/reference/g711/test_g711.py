"""G.711 held against two implementations that are not ours, for every value there is."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.sound.g711 import LAWS, RATE_HZ, Law, a_law_values, g711_codes, mu_law_values

EVERY = np.arange(-32_768, 32_768, dtype=np.int16)
VALUES = {"A-law": a_law_values(), "mu-law": mu_law_values()}
SUBTYPES = {"A-law": "ALAW", "mu-law": "ULAW"}
CODERS = {"A-law": "alaw", "mu-law": "mulaw"}


@pytest.mark.parametrize("law", LAWS)
def test_every_sample_gets_the_code_that_the_library_gives_it(law: Law) -> None:
    file = io.BytesIO()
    soundfile.write(file, EVERY, RATE_HZ, format="RAW", subtype=SUBTYPES[law])
    theirs = np.frombuffer(file.getvalue(), np.uint8)
    assert np.array_equal(g711_codes(EVERY / 32_768.0, law), theirs)


@pytest.mark.parametrize("law", LAWS)
def test_every_code_is_decoded_alike_by_another_program(
    ffmpeg: Path, tmp_path: Path, law: Law
) -> None:
    codes = tmp_path / "codes"
    codes.write_bytes(bytes(range(256)))
    words = [str(ffmpeg), "-v", "error", "-f", CODERS[law], "-ar", "8000", "-i", str(codes)]
    decoded = subprocess.run(
        [*words, "-f", "s16le", "-"], check=True, capture_output=True, timeout=60
    ).stdout
    assert np.array_equal(VALUES[law], np.frombuffer(decoded, "<i2") / 32_768.0)


@pytest.mark.parametrize("law", LAWS)
def test_a_code_stands_for_itself(law: Law) -> None:
    assert np.array_equal(VALUES[law][g711_codes(VALUES[law], law)], VALUES[law])


@pytest.mark.parametrize(("law", "least_db"), [("A-law", 37.5), ("mu-law", 37.0)])
def test_speech_level_keeps_the_distance_that_the_law_promises(law: Law, least_db: float) -> None:
    """Signal to error, about 38 dB over a wide range of levels (Recommendation G.712)."""
    noise = np.random.default_rng(3).normal(size=80_000)
    for level_db in (-30.0, -20.0):
        sound = noise * 10.0 ** (level_db / 20.0)
        error = VALUES[law][g711_codes(sound, law)] - sound
        assert 10.0 * np.log10(np.mean(sound**2) / np.mean(error**2)) >= least_db - 1.0
