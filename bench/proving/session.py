"""A messy session with its truth, from pieces and a seed: the same seed gives the same samples."""

from __future__ import annotations

import subprocess
import tempfile
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from bench.proving.faults import lay_acoustic, lay_close, lay_echoes
from bench.proving.labels import Label
from bench.proving.mess import Mess
from bench.proving.pieces import Pieces
from bench.proving.places import Places
from bench.proving.readers import ClipReader, Reader, RepeatReader
from bench.proving.reading import Draws, Reading, Step
from bench.proving.sample_faults import with_sample_faults
from bench.proving.shaping import (
    Samples,
    band_limited,
    coloured,
    faded,
    fitted,
    gain_of,
    has_hum,
    in_room,
    looped,
    pink,
    resampled,
    rms_db,
    room_filter,
    through_microphone,
    tilted,
)
from bench.proving.timeline import Timeline
from tests.helpers import find_ffmpeg

LOWEST_RATE_HZ = 16_000
WIDE_RATE_HZ = 48_000
_PEAK_MOST = 0.95
_OTHERS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session and all that is known of it.

    Attributes
    ----------
    samples : ndarray, shape (n,), full scale 1.0
    labels : tuple of Label
        In order of time.
    """

    samples: Samples
    sample_rate_hz: int
    labels: tuple[Label, ...]
    voice: str

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.samples.size / self.sample_rate_hz


def make_session(
    pieces: Pieces,
    seed: int,
    *,
    voice: str,
    length_s: float,
    mess: Mess,
    sample_rate_hz: int | None = None,
    reader: Reader | None = None,
) -> Session:
    """Make a session of about so long; shorter where the voice has too few sentences.

    A voice of the repeats reads from them if ``mess.how`` is true or it has no clips. Unless
    ``mess.wide``, sounds are mixed at the voice's own sampling rate, so that no noise has a band
    that the voice has not; ``sample_rate_hz`` is what comes out (None: the voice's own, 16 kHz at
    least). Another ``reader`` may read in the voice's place.
    """
    draws = _draws(seed)
    draw = draws("session")
    reader = reader or _reader(
        pieces, voice, mess, (sample_rate_hz or WIDE_RATE_HZ) if mess.wide else None
    )
    rate = reader.rate_hz
    speech_dbov = float(draw.uniform(*mess.speech_dbov))
    floor_db = float(draw.uniform(*mess.floor_dbfs))
    recordings = reader.room_recordings()
    room_tone = room_filter(recordings, rate) * gain_of(speech_dbov)
    own_db = 10.0 * np.log10(float(np.sum(room_tone**2)) + 1e-20)
    floor_dbov = float(10.0 * np.log10(10.0 ** (floor_db / 10.0) + 10.0 ** (own_db / 10.0)))
    line = Timeline(rate, speech_dbov)
    reading = Reading(reader, pieces, mess, line, floor_dbov, draws)
    reading.read(length_s)
    places = Places(line.labels, line.at_s)
    if places.speech:
        lay_acoustic(reading, places, _others(pieces, voice))
    scene = line.sound()
    responses = [resampled(room.samples, room.sample_rate_hz, rate) for room in pieces.rooms]
    if mess.room is not None and responses:
        scene = in_room(scene, responses[mess.room % len(responses)])
        line.tell("room", 0.0, line.at_s, {"room": mess.room})
    if has_hum(recordings, rate):
        line.tell("hum-own", 0.0, line.at_s, {"bed": voice})
    lay_echoes(reading, scene, responses)
    scene += coloured(draws("room-tone"), scene.size, room_tone)
    floor = _floor(pieces, mess, scene.size, rate, draws) * gain_of(floor_db)
    scene += _stepped(floor, rate, reading.steps, "floor")
    if places.speech:
        lay_close(reading, places, scene, draws)
    scene = _stepped(scene, rate, reading.steps, "level")
    for step in reading.steps:
        if step.what == "tone":
            first = round(step.at_s * rate)
            changed = faded(np.ones(scene.size - first), rate, 0.05, 0.0001)
            scene[first:] += changed * (tilted(scene[first:], rate, step.by_db) - scene[first:])
    scene = through_microphone(scene, rate, mess.microphone)
    if mess.band_hz is not None:
        scene = band_limited(scene, rate, mess.band_hz)
    out_hz = sample_rate_hz or max(rate, LOWEST_RATE_HZ)
    samples = resampled(scene, rate, out_hz)
    peak = float(np.abs(samples).max()) if samples.size else 0.0
    if peak > _PEAK_MOST:
        samples *= _PEAK_MOST / peak
    if mess.coded_kbps is not None:
        samples = _coded(samples, out_hz, mess.coded_kbps)
    samples, labels = with_sample_faults(samples, out_hz, line.labels, mess, draws)
    ordered = tuple(sorted(labels, key=lambda label: (label.start_s, label.end_s, label.kind)))
    return Session(
        samples=samples,
        sample_rate_hz=out_hz,
        labels=ordered,
        voice=voice,
    )


def read_seconds(pieces: Pieces, voice: str) -> float:
    """Say how much speech a voice has; under a minute, its sessions end early."""
    return sum(clip.stop_s - clip.start_s for clip in pieces.clips.get(voice, ()))


def _draws(seed: int) -> Draws:
    """Give each thing its own random numbers: more coughs do not move the sentences."""
    drawn: dict[str, np.random.Generator] = {}

    def named(name: str) -> np.random.Generator:
        if name not in drawn:
            drawn[name] = np.random.default_rng([seed, zlib.crc32(name.encode())])
        return drawn[name]

    return named


def _reader(pieces: Pieces, voice: str, mess: Mess, rate_hz: int | None) -> Reader:
    if voice in pieces.repeats and (mess.how == "true" or voice not in pieces.clips):
        return RepeatReader(pieces.repeats[voice], rate_hz)
    if voice not in pieces.clips:
        raise ValueError(f"no voice {voice}; there are {', '.join(pieces.voices)}")
    if mess.how == "true" and mess.restarts:
        raise ValueError(f"{voice} said nothing twice; {', '.join(pieces.repeat_voices)} did")
    return ClipReader(pieces.clips[voice], rate_hz)


def _others(pieces: Pieces, voice: str) -> list[ClipReader]:
    others = [other for other in pieces.voices if other != voice and len(pieces.clips[other]) >= 5]
    return [ClipReader(pieces.clips[other][:5]) for other in others[:_OTHERS]]


def _floor(pieces: Pieces, mess: Mess, count: int, rate: int, draws: Draws) -> Samples:
    """Make a floor of RMS 1."""
    draw = draws("floor")
    tones = pieces.beds.get("roomtone", ())
    if mess.floor == "pink" or not tones:
        return pink(draw, count, rate)
    tone = max(tones, key=lambda bed: bed.samples.size / bed.sample_rate_hz)
    if draw.random() < 0.5:
        tone = tones[int(draw.integers(len(tones)))]
    sound = looped(resampled(tone.samples, tone.sample_rate_hz, rate), count, draw, rate)
    return sound * gain_of(-rms_db(sound))


def _stepped(samples: Samples, rate: int, steps: list[Step], what: str) -> Samples:
    for step in steps:
        if step.what == what:
            first = round(step.at_s * rate)
            ramp = np.minimum(np.arange(samples.size - first) / (0.05 * rate), 1.0)
            samples[first:] *= 10.0 ** (step.by_db / 20.0 * ramp)
    return samples


def _coded(samples: Samples, rate: int, kbps: int) -> Samples:
    ffmpeg = find_ffmpeg()
    with tempfile.TemporaryDirectory(prefix="quietleaf-proving-") as folder:
        plain, coded, back = (Path(folder) / name for name in ("a.wav", "b.mp3", "c.wav"))
        soundfile.write(plain, samples, rate, "FLOAT")
        to_mp3: list[str | Path] = ["-i", plain, "-c:a", "libmp3lame", "-b:a", f"{kbps}k", coded]
        to_wave: list[str | Path] = ["-i", coded, "-ar", str(rate), "-c:a", "pcm_f32le", back]
        for words in (to_mp3, to_wave):
            subprocess.run([ffmpeg, "-v", "error", "-nostdin", "-y", *words], check=True)
        decoded, _ = soundfile.read(back)
    return fitted(decoded, samples.size)
