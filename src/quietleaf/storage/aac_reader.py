"""M4A and AAC recordings, where the extra is installed that decodes them.

The container says how many samples the encoder put before and after the sound; they are left
away. Raw AAC says nothing of the kind, and keeps its first 1024 or so samples of filling.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.units import clock

_LONGEST_PACKETS = 8192
"""A file that is cut ends inside a packet: of AAC 1024 or 2048 samples, of ALAC 4096."""


class AacReader:
    """Gives ranges of frames; fastest in order, since a range is reached by decoding up to it.

    Attributes
    ----------
    frames : int
        Counted from the packets that are in the file.
    coding : str
        ``aac`` or ``alac``.
    remarks : tuple of str
        Sentences about what is missing.
    """

    def __init__(self, path: Path, name: str) -> None:
        try:
            import av
        except ImportError as missing:
            raise Invalid(
                "sound/no-aac",
                f"{name} is M4A or AAC, which needs an extra that is not installed here. "
                "Install it with: pip install 'quietleaf[aac]', or export the recording as WAV.",
            ) from missing
        self._av = av
        self._path = path
        self._name = name
        self._container: Any = None
        self.remarks: tuple[str, ...] = ()
        self._at = 0
        self._left: NDArray[np.float64] = np.zeros((0, 1))
        self._begin()
        try:
            self._measure()
        except BaseException:
            self.close()
            raise
        self._begin()

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0."""
        if start < self._at:
            self._begin()
        parts: list[NDArray[np.float64]] = []
        while self._at < stop:
            block = self._left if len(self._left) else self._decoded()
            first = max(start - self._at, 0)
            last = min(stop - self._at, len(block))
            if first < last:
                parts.append(block[first:last])
            self._left = block[last:]
            self._at += last
        return np.concatenate(parts) if parts else np.zeros((0, self.channels))

    def close(self) -> None:
        """Let go of the file."""
        if self._container is not None:
            self._container.close()
            self._container = None

    def _begin(self) -> None:
        """Open the file at its start."""
        self.close()
        try:
            self._container = self._av.open(str(self._path))
            self._stream = self._container.streams.audio[0]
        except (self._av.FFmpegError, IndexError) as fault:
            raise AudioUnfit(
                "sound/broken",
                f"{self._name} begins like an M4A or AAC recording, and no sound can be read from "
                "it. Copy it again from where it was made, or export it as WAV.",
            ) from fault
        self._frames_decoded = self._container.decode(self._stream)
        self._resampler = self._av.AudioResampler(format="dblp")
        self._left = np.zeros((0, 1))
        self._at = 0

    def _measure(self) -> None:
        """Count what is there: the length in the container is a claim."""
        self.coding = str(self._stream.codec_context.name)
        # Rate and channels are those of decoded sound: AAC may hold half the rate it is played at.
        first = self._decoded_frame()
        self.sample_rate_hz = int(first.sample_rate)
        self.channels = len(first.layout.channels)
        in_packets = self._in_packets()
        promised = self._promised()
        if promised is not None and in_packets >= promised:
            self.frames = promised
            return
        # It ends early, or has no length: only decoding tells how far it goes.
        self.frames = self._decodable()
        if self.frames < in_packets - _LONGEST_PACKETS:
            raise self._broken(self.frames / self.sample_rate_hz)
        if self.frames < 1:
            raise AudioUnfit(
                "sound/no-samples",
                f"A recording needs sound in it; {self._name} has a header and no samples that "
                "can be read. Record or export it again.",
            )
        if promised is not None:
            self.remarks = (
                f"It ends early: its header promises {clock(promised / self.sample_rate_hz)}, and "
                f"{clock(self.frames / self.sample_rate_hz)} is there. All of that was taken.",
            )

    def _in_packets(self) -> int:
        """Count frames by the packets that are in the file, without decoding them."""
        self._begin()
        base = self._stream.time_base
        length = 0
        begins: int | None = None
        try:
            for packet in self._container.demux(self._stream):
                if packet.size:
                    length += packet.duration or 0
                    begins = packet.pts if begins is None else begins
        except self._av.FFmpegError as fault:
            raise self._broken(float(length * base)) from fault
        # Packets before time 0 hold what the encoder put in front.
        frames: int = round((length + min(begins or 0, 0)) * base * self.sample_rate_hz)
        return frames

    def _decodable(self) -> int:
        """Count frames by decoding as far as it goes."""
        self._begin()
        count = 0
        with suppress(self._av.FFmpegError):
            for frame in self._frames_decoded:
                count += int(frame.samples)
        return count

    def _promised(self) -> int | None:
        """Give the length without filling, where the container has one."""
        if self.coding == "aac" and "mp4" not in self._container.format.name:
            return None
        duration, base = self._stream.duration, self._stream.time_base
        return None if duration is None else round(duration * base * self.sample_rate_hz)

    def _decoded_frame(self) -> Any:
        try:
            return next(self._frames_decoded)
        except (StopIteration, self._av.FFmpegError) as fault:
            raise self._broken(self._at / getattr(self, "sample_rate_hz", 48_000)) from fault

    def _decoded(self) -> NDArray[np.float64]:
        planes = [plane.to_ndarray() for plane in self._resampler.resample(self._decoded_frame())]
        return np.concatenate(planes, axis=1, dtype=np.float64).T

    def _broken(self, at_s: float) -> AudioUnfit:
        return AudioUnfit(
            "sound/broken",
            f"{self._name} is damaged at {clock(at_s)} and cannot be read "
            "from there. Copy it again from where it was made, or export it again.",
        )
