"""The room check: what three short recordings before a reading tell of microphone and room."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Invalid
from quietleaf.listening.listen import hear
from quietleaf.listening.room_band import band_end_hz
from quietleaf.listening.room_echo import Echo, room_echo
from quietleaf.listening.room_hum import Hum, find_hum
from quietleaf.listening.room_leak import Leak, find_leak
from quietleaf.listening.room_limits import ROOM_LIMITS, RoomLimits
from quietleaf.listening.room_noise import RoomNoise, room_noise
from quietleaf.listening.room_pops import NO_POPS, Pops, find_pops
from quietleaf.listening.room_side import MicrophoneSide, microphone_side

AdviceCode = Literal[
    "no-input",
    "no-voice",
    "clipped",
    "narrow-band",
    "loudspeaker",
    "too-quiet",
    "too-loud",
    "not-still",
    "noise",
    "hum",
    "headphones-leak",
    "echo",
    "pops",
]
Overall = Literal["good", "usable", "not yet"]
_STOPS: frozenset[AdviceCode] = frozenset(("no-input", "no-voice", "clipped", "loudspeaker"))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSound:
    """What was recorded; each of shape (n, c), full scale 1.0, the same one or two channels.

    Attributes
    ----------
    sentence : ndarray
        One sentence read.
    still : ndarray
        Five seconds of nothing.
    plosives : ndarray
        A sentence full of p and b.
    played : ndarray or None
        What was heard while the test sound was played; None where it was not.
    """

    sample_rate_hz: int
    sentence: NDArray[np.float64]
    still: NDArray[np.float64]
    plosives: NDArray[np.float64]
    played: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomCheck:
    """What the room check found. None where there is nothing to measure.

    Attributes
    ----------
    voice_dbov : float or None
        Active speech level (ITU-T P.56) of both sentences.
    peak_dbfs : float or None
        Greatest sample.
    speech_s : float
        How much of both sentences is speech.
    sentence_s : float
        From the first word of the first sentence to its last.
    clipped : int
        Places where the voice is cut off at its peaks.
    band_end_hz : int or None
        Where a narrowed voice ends.
    advice : tuple of str
        What to tell, the weightiest first.
    """

    sample_rate_hz: int
    channels: int
    side: MicrophoneSide | None
    voice_dbov: float | None = None
    peak_dbfs: float | None = None
    speech_s: float = 0.0
    sentence_s: float = 0.0
    clipped: int = 0
    noise: RoomNoise | None = None
    hum: Hum | None = None
    pops: Pops = NO_POPS
    echo: Echo | None = None
    leak: Leak | None = None
    band_end_hz: int | None = None
    advice: tuple[AdviceCode, ...] = ()

    @property
    def voice_to_noise_db(self) -> float | None:
        """How far the room lies under the voice."""
        if self.voice_dbov is None or self.noise is None:
            return None
        return self.voice_dbov - self.noise.floor_dbov

    @property
    def leak_below_voice_db(self) -> float | None:
        """How far the test sound lies under the voice."""
        if self.voice_dbov is None or self.leak is None:
            return None
        return self.voice_dbov - self.leak.level_dbov

    @property
    def overall(self) -> Overall:
        """Whether one can read like this: well; with what is advised; not before it is mended."""
        if any(code in _STOPS for code in self.advice):
            return "not yet"
        return "usable" if self.advice else "good"


def check_room(sound: RoomSound, limits: RoomLimits = ROOM_LIMITS) -> RoomCheck:
    """Measure a room, and choose what to tell.

    Parameters
    ----------
    sound : RoomSound
        Finite samples at 8 kHz or more. Parts may be short or silent: they tell less.

    Returns
    -------
    check : RoomCheck
        Measured on the side that has the microphone.

    Raises
    ------
    Invalid
        If the parts have no channel, more than two, or not the same number.
    AudioUnfit
        If the rate is lower than 8 kHz.

    Notes
    -----
    Sources and limits: `RoomLimits`, and each measure's own module.

    Examples
    --------
    >>> nothing = np.zeros((48_000, 1))
    >>> check_room(
    ...     RoomSound(sample_rate_hz=48_000, sentence=nothing, still=nothing, plosives=nothing)
    ... ).advice
    ('no-input',)
    """
    channels = sound.sentence.shape[1]
    parts = [sound.still, sound.plosives]
    if sound.played is not None:
        parts.append(sound.played)
    if channels not in (1, 2) or any(part.shape[1] != channels for part in parts):
        raise Invalid(
            "room/channels",
            "The room check needs one or two channels, the same in each part. Do it again.",
        )
    spoken = np.concatenate([sound.sentence, sound.plosives])
    side = microphone_side(spoken, sound.still, sound.sample_rate_hz, limits)
    if side is None:
        return RoomCheck(
            sample_rate_hz=sound.sample_rate_hz, channels=channels, side=None, advice=("no-input",)
        )
    return _measured(sound, side, channels, limits)


def _measured(
    sound: RoomSound, side: MicrophoneSide, channels: int, limits: RoomLimits
) -> RoomCheck:
    rate = sound.sample_rate_hz
    taken = 1 if side.side == "right" else 0
    sentence, still, plosives = (
        np.ascontiguousarray(part[:, taken])
        for part in (sound.sentence, sound.still, sound.plosives)
    )
    spoken = np.concatenate([sentence, plosives])
    heard = hear([spoken[:, np.newaxis]], rate, 1)
    first = hear([sentence[:, np.newaxis]], rate, 1).speech_s
    hum = find_hum(still, rate)
    noise = room_noise(still, rate, hum)
    measured = RoomCheck(
        sample_rate_hz=rate,
        channels=channels,
        side=side,
        voice_dbov=heard.level.active_speech_dbov,
        peak_dbfs=heard.peak.sample_dbfs,
        speech_s=heard.spoken_s,
        sentence_s=float(first[-1, 1] - first[0, 0]) if len(first) else 0.0,
        clipped=sum(finding.kind == "clip" for finding in heard.findings),
        noise=noise,
        hum=hum if noise is not None else None,
        pops=find_pops(plosives, still, sentence, rate),
        echo=room_echo(spoken, rate),
        leak=None if sound.played is None else find_leak(sound.played[:, taken], rate),
        band_end_hz=band_end_hz(np.concatenate([spoken, still]), rate),
    )
    return _advised(measured, limits)


def _advised(check: RoomCheck, limits: RoomLimits) -> RoomCheck:
    if not _has_voice(check, limits):
        # Levels of what is no voice, and all that is held against them, would mislead.
        return replace(
            check,
            voice_dbov=None,
            echo=None,
            band_end_hz=None,
            pops=NO_POPS,
            advice=("no-voice",),
        )
    voice_dbov = check.voice_dbov if check.voice_dbov is not None else -math.inf
    peak_dbfs = check.peak_dbfs if check.peak_dbfs is not None else -math.inf
    distance_db = check.voice_to_noise_db
    noisy = distance_db is not None and distance_db < limits.voice_to_noise_db_min
    hum_told = check.hum is not None and (
        voice_dbov - check.hum.heard_dbov < limits.hum_below_voice_db
    )
    leak_db = check.leak_below_voice_db
    loudspeaker = leak_db is not None and leak_db < limits.loudspeaker_below_voice_db
    told: dict[AdviceCode, bool] = {
        "clipped": check.clipped > 0,
        "narrow-band": check.band_end_hz is not None,
        "loudspeaker": loudspeaker,
        "too-quiet": voice_dbov < limits.voice_dbov_min,
        "too-loud": check.clipped == 0
        and (voice_dbov > limits.voice_dbov_max or peak_dbfs > limits.peak_dbfs_max),
        "not-still": check.noise is not None
        and check.noise.bump_db > limits.bump_over_floor_db
        and check.noise.floor_dbov + check.noise.bump_db
        > voice_dbov - limits.voice_to_noise_db_min,
        "noise": noisy and not (hum_told and check.noise is not None and check.noise.kind == "hum"),
        "hum": hum_told,
        "headphones-leak": not loudspeaker
        and leak_db is not None
        and leak_db < limits.leak_below_voice_db,
        "echo": check.echo is not None and check.echo.decay_s > limits.echo_s_far,
        "pops": check.pops.count > limits.pops_max,
    }
    return replace(check, advice=tuple(code for code, holds in told.items() if holds))


def _has_voice(check: RoomCheck, limits: RoomLimits) -> bool:
    if check.voice_dbov is None or check.speech_s < limits.speech_s_min:
        return False
    distance_db = check.voice_to_noise_db
    return distance_db is None or distance_db >= limits.voice_over_room_db_min
