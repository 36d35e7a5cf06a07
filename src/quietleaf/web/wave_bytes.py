"""Sound as a WAV file of 16 bits, for a browser to play."""

from __future__ import annotations

import io
import wave

import numpy as np
from numpy.typing import NDArray

_STEPS_16_BIT = 32_767


def wave_bytes(samples: NDArray[np.float64], sample_rate_hz: int) -> bytes:
    """Write samples, shape (n,), full scale 1.0, as a file of one channel."""
    steps = np.rint(np.clip(samples, -1.0, 1.0) * _STEPS_16_BIT).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as written:
        written.setnchannels(1)
        written.setsampwidth(2)
        written.setframerate(sample_rate_hz)
        written.writeframes(steps.tobytes())
    return file.getvalue()
