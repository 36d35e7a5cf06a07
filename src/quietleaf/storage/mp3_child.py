"""The process that encodes MP3: 16-bit mono samples come in, frames go out.

It ends by itself when its input does, so that it never outlives whoever started it; what it wrote
then lies in a file without a name, and is gone. Imports next to nothing, to start quickly.
"""

from __future__ import annotations

import sys

import lameenc

_READ_BYTES = 2 * 1152 * 40


def main() -> None:
    """Encode from standard input to standard output: sampling rate, kbit/s, quality."""
    sample_rate_hz, kbps, quality = map(int, sys.argv[1:])
    encoder = lameenc.Encoder()
    encoder.silence()
    encoder.set_channels(1)
    encoder.set_in_sample_rate(sample_rate_hz)
    # Left to itself the encoder picks a lower one at low bit rates.
    encoder.set_out_sample_rate(sample_rate_hz)
    encoder.set_bit_rate(kbps)
    encoder.set_quality(quality)
    # Reads are filled up, so that the bytes do not depend on how they came through the pipe.
    while samples := sys.stdin.buffer.read(_READ_BYTES):
        sys.stdout.buffer.write(encoder.encode(samples))
    sys.stdout.buffer.write(encoder.flush())
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
