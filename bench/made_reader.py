"""A reader who is no person: speech programs say invented texts, in an order that texts have.

So that there are headlines whose words come back, and lists, and refrains, in as many renditions as
one likes. Programs say the same in the same way: each rendition has another speed and pitch.
"""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from bench.made_texts import begun_alike, made_texts
from bench.proving.shaping import (
    Samples,
    active_db,
    faded,
    gain_of,
    level_frames_db,
    resampled,
    tilted,
)
from bench.proving.spoken import Said

RATE_HZ = 16_000
VOICES = (
    "flite-slt",
    "flite-rms",
    "flite-awb",
    "flite-kal16",
    "espeak-en-gb+m3",
    "espeak-en-us+f2",
    "espeak-en-gb-scotland+f4",
    "espeak-en-us+m7",
)
"""Program, and its voice: `flite` and `espeak-ng` must be installed."""
_SOUNDING_DB = 32.0
_EDGE_S = 0.03


class MadeReader:
    """Says texts in groups of sentences that belong together."""

    rate_hz = RATE_HZ

    def __init__(self, voice: str, draw: np.random.Generator) -> None:
        self.voice = voice
        self._left: list[str] = []
        self._room = [self._rendered(text, draw) for text in ("The library is open.",) * 2]

    def next(self, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say the next of the texts at hand."""
        del barred
        if not self._left:
            self._left = list(made_texts(draw))
        return self._say(self._left.pop(0), draw)

    def again(self, said: Said, draw: np.random.Generator) -> Said:
        """Say the same text, otherwise."""
        assert said.text is not None
        return self._say(said.name, draw)

    def alike(self, said: Said, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say a text that begins as this one."""
        del barred
        return self._say(begun_alike(said.name, draw), draw)

    def room_recordings(self) -> list[Samples]:
        """Give some of what it said."""
        return self._room

    def _say(self, text: str, draw: np.random.Generator) -> Said:
        sound = self._rendered(text, draw)
        length_s = sound.size / RATE_HZ
        return Said(
            key=text,
            name=text,
            samples=sound,
            rate_hz=RATE_HZ,
            start_s=_EDGE_S,
            stop_s=length_s - _EDGE_S,
            text=text,
            words=(),
        )

    def _rendered(self, text: str, draw: np.random.Generator) -> Samples:
        program, _, voice = self.voice.partition("-")
        slower = float(draw.uniform(0.88, 1.14))
        with tempfile.TemporaryDirectory(prefix="quietleaf-said-") as folder:
            path = Path(folder) / "said.wav"
            if program == "flite":
                words = ["flite", "-voice", voice, "--setf", f"duration_stretch={slower:.3f}",
                         "--seti", f"int_f0_target_stddev={int(draw.integers(8, 22))}",
                         "-t", text, "-o", str(path)]  # fmt: skip
            else:
                words = ["espeak-ng", "-v", voice, "-s", str(round(165 / slower)), "-p",
                         str(int(draw.integers(35, 60))), "-w", str(path), text]  # fmt: skip
            subprocess.run(words, check=True)
            samples, rate = soundfile.read(path)
        sound = resampled(samples, rate, RATE_HZ)
        sound = resampled(sound, RATE_HZ * float(draw.uniform(0.96, 1.04)), RATE_HZ)
        sound = tilted(sound, RATE_HZ, float(draw.uniform(-2.0, 2.0)))
        level = level_frames_db(sound, RATE_HZ)
        heard = np.flatnonzero(level > np.percentile(level, 92.0) - _SOUNDING_DB)
        edge = round(_EDGE_S * RATE_HZ)
        hop = RATE_HZ // 100
        first, stop = int(heard[0]) * hop, (int(heard[-1]) + 1) * hop
        sound = np.pad(sound[first:stop], (edge, edge))
        sound = faded(sound, RATE_HZ, 0.01, 0.02)
        return sound * gain_of(-active_db(sound, RATE_HZ) + float(draw.uniform(-1.5, 1.5)))
