"""Frames for the sentence finder: where a voice is heard and where it rests, frame by frame.

Level and a low band in frames of 10 ms, a floor and a top that follow the room and the voice, and
a small machine that says when a pause is over. `docs/sentence-starts.md` tells it in full; the
browser does the same arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import VOICE_BAND_FROM_HZ, low_pass_numbers
from quietleaf.sound.compiled import kernel
from quietleaf.sound.kweighting import high_pass_denominator

FRAMES_PER_S = 100
RING = 2_048
"""Frames that are remembered: 20 s."""
STEPS = 256
LOWEST_DBOV = -127.5
FLOOR_FRAMES = 1_200
LOOK_FRAMES = 10
FLOOR_SHARE = 0.08
TOP_SHARE = 0.92
FLOOR_KNOWN_FRAMES = 60
FLOOR_AT_FIRST_STEP = 171
"""-42 dBov: somebody who speaks at once must not be taken for the room."""

SOUND_OVER_FLOOR_DB = 5.0
SOUND_UNDER_TOP_DB = 40.0
VOICE_SHARE = 0.38
VOICE_DB_MIN, VOICE_DB_MAX = 6.0, 9.0
"""A voice lies this share of top less floor over the floor, within these limits."""
VOICE_UNDER_TOP_DB = 22.0
LOW_UNDER_DB = 12.0
"""A voice has its power below 500 Hz; breath and paper have not."""
QUIET_FRAMES = 6
VOICED_FRAMES = 4
TAIL_FRAMES = 30
"""So much sound after the last voiced frame belongs to the word."""
_BUTTERWORTH_Q = 0.7071067811865476

FRAME, COUNT, FLOOR, TOP, RUN_START, LAST_SOUND, VOICED, IS_SPEECH, SPEECH_STOP, BEGAN = range(10)
FIRST_VOICED, LAST_VOICED = 10, 11


@dataclass(slots=True, kw_only=True)
class FrameMemory:
    """What is kept of the last 20 s.

    Attributes
    ----------
    power, low : ndarray, shape (RING,)
        Mean squares above 80 Hz, and between 80 and 500 Hz, of frame ``i`` at ``i % RING``.
    steps, histogram : ndarray
        Smoothed levels in half decibels, and how many of the last 12 s read each.
    machine : ndarray, int64
        Frames heard, frames counted, floor and top in steps, where the present run of sound
        began (-1: none), its last frame of sound, its voiced frames, whether it is speech, where
        the speech before it ended (0: none before), and whether speech began with the last frame.
    """

    power: NDArray[np.float64] = field(default_factory=lambda: np.zeros(RING))
    low: NDArray[np.float64] = field(default_factory=lambda: np.zeros(RING))
    steps: NDArray[np.uint8] = field(default_factory=lambda: np.zeros(RING, dtype=np.uint8))
    histogram: NDArray[np.int64] = field(default_factory=lambda: np.zeros(STEPS, dtype=np.int64))
    machine: NDArray[np.int64] = field(
        default_factory=lambda: np.array(
            [0, 0, FLOOR_AT_FIRST_STEP, 0, -1, -1, 0, 0, 0, 0, 0, 0], dtype=np.int64
        )
    )

    @property
    def heard(self) -> int:
        """Whole frames so far."""
        return int(self.machine[FRAME])


def band_numbers(sample_rate_hz: int) -> NDArray[np.float64]:
    """Give the numbers of the two filters: 80 Hz high-pass, then 500 Hz low-pass, 2nd order each.

    Both are Butterworth by the bilinear transform.
    """
    high = high_pass_denominator(VOICE_BAND_FROM_HZ, _BUTTERWORTH_Q, sample_rate_hz)
    gain = (high[0] - high[1] + high[2]) / 4.0
    return np.array([high[1], high[2], gain, *low_pass_numbers(sample_rate_hz)])


@kernel
def band_frames(
    samples: NDArray[np.float64],
    position: int,
    frame: int,
    sample_rate_hz: int,
    numbers: NDArray[np.float64],
    memory: NDArray[np.float64],
    power: NDArray[np.float64],
    low: NDArray[np.float64],
) -> int:
    """Run a block through the two filters; give how many frames it completed.

    ``power`` and ``low`` get the mean squares of the completed frames. ``memory`` has 8 places.
    """
    ha1, ha2, high_gain = numbers[0], numbers[1], numbers[2]
    gain, la1, la2 = numbers[3], numbers[4], numbers[5]
    x1, x2, h1, h2 = memory[0], memory[1], memory[2], memory[3]
    l1, l2 = memory[4], memory[5]
    h_sum, l_sum = memory[6], memory[7]
    done = 0
    start = 0
    while start < samples.size:
        begin = (2 * frame * sample_rate_hz + 100) // 200
        frame_stop = (2 * (frame + 1) * sample_rate_hz + 100) // 200
        stop = min(frame_stop - position, samples.size)
        for i in range(start, stop):
            x = samples[i]
            h = ((x - (x1 + x1)) + x2 - ha2 * h2) - ha1 * h1
            low_now = gain * ((h + (h1 + h1)) + h2) - la2 * l2 - la1 * l1
            x2, x1 = x1, x
            h2, h1 = h1, h
            l2, l1 = l1, low_now
            h_sum += h * h
            l_sum += low_now * low_now
        start = stop
        if position + stop == frame_stop:
            scale = high_gain * high_gain / (frame_stop - begin)
            power[done] = h_sum * scale
            low[done] = l_sum * scale
            h_sum, l_sum = 0.0, 0.0
            done += 1
            frame += 1
            if abs(h1) + abs(h2) + abs(l1) + abs(l2) < 1e-30:
                h1, h2, l1, l2 = 0.0, 0.0, 0.0, 0.0
    memory[0], memory[1], memory[2], memory[3] = x1, x2, h1, h2
    memory[4], memory[5] = l1, l2
    memory[6], memory[7] = h_sum, l_sum
    return done


@kernel
def _dbov(power: float) -> float:
    return 10.0 * np.log10(power) if power > 1e-20 else -200.0


@kernel
def _share_step(histogram: NDArray[np.int64], count: int, share: float) -> int:
    wanted = count * share
    seen = 0
    for step in range(histogram.size):
        seen += histogram[step]
        if seen > wanted:
            return step
    return histogram.size - 1


@kernel
def follow(
    power: NDArray[np.float64],
    low: NDArray[np.float64],
    ring_power: NDArray[np.float64],
    ring_low: NDArray[np.float64],
    steps: NDArray[np.uint8],
    histogram: NDArray[np.int64],
    machine: NDArray[np.int64],
) -> int:
    """Take frames in until a pause is over or there are no more; give how many were taken.

    A pause is over when the run of sound after it has had four voiced frames: then
    ``machine[BEGAN]`` is 1.
    """
    machine[BEGAN] = 0
    for index in range(power.size):
        frame = machine[FRAME]
        here = frame % RING
        ring_power[here] = power[index]
        ring_low[here] = low[index]
        mean = power[index]
        mean_low = low[index]
        if frame >= 2:
            one, two = (frame - 1) % RING, (frame - 2) % RING
            mean = (power[index] + ring_power[one] + ring_power[two]) / 3.0
            mean_low = (low[index] + ring_low[one] + ring_low[two]) / 3.0
        level = _dbov(mean)
        step = min(max(int(np.floor(2.0 * (level - LOWEST_DBOV) + 0.5)), 0), STEPS - 1)
        if frame >= FLOOR_FRAMES:
            old = steps[(frame - FLOOR_FRAMES) % RING]
            if old > 0:
                histogram[old] -= 1
                machine[COUNT] -= 1
        steps[here] = step
        if step > 0:
            histogram[step] += 1
            machine[COUNT] += 1
        if frame % LOOK_FRAMES == 0 and machine[COUNT] > 0:
            floor_step = _share_step(histogram, machine[COUNT], FLOOR_SHARE)
            if machine[COUNT] < FLOOR_KNOWN_FRAMES:
                floor_step = min(floor_step, FLOOR_AT_FIRST_STEP)
            machine[FLOOR] = floor_step
            machine[TOP] = _share_step(histogram, machine[COUNT], TOP_SHARE)
        machine[FRAME] = frame + 1

        floor = LOWEST_DBOV + machine[FLOOR] / 2.0
        top = LOWEST_DBOV + machine[TOP] / 2.0
        over = min(max(VOICE_SHARE * (top - floor), VOICE_DB_MIN), VOICE_DB_MAX)
        sound = level > floor + SOUND_OVER_FLOOR_DB and level > top - SOUND_UNDER_TOP_DB
        voiced = (
            level > floor + over
            and level > top - VOICE_UNDER_TOP_DB
            and _dbov(mean_low) > level - LOW_UNDER_DB
        )
        if sound:
            if machine[RUN_START] < 0:
                machine[RUN_START] = frame
                machine[VOICED] = 0
            machine[LAST_SOUND] = frame
            if voiced:
                if machine[VOICED] == 0:
                    machine[FIRST_VOICED] = frame
                machine[VOICED] += 1
                machine[LAST_VOICED] = frame
                if machine[IS_SPEECH] == 0 and machine[VOICED] >= VOICED_FRAMES:
                    machine[IS_SPEECH] = 1
                    machine[BEGAN] = 1
                    return index + 1
        elif machine[RUN_START] >= 0 and frame - machine[LAST_SOUND] >= QUIET_FRAMES:
            if machine[IS_SPEECH] == 1:
                machine[SPEECH_STOP] = (
                    min(machine[LAST_SOUND], machine[LAST_VOICED] + TAIL_FRAMES) + 1
                )
            machine[RUN_START] = -1
            machine[IS_SPEECH] = 0
    return power.size
