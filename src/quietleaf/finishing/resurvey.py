"""The survey of a sound that was repaired: only the frames that differ are looked at again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.repairs import Repair
from quietleaf.finishing.survey import (
    FRAME_SAMPLES,
    Survey,
    start_survey,
    step_survey,
    survey_result,
)

_SETTLE_FRAMES = 50
_RING_FRAMES = 10
_PART_FRAMES = 4_000


def resurveyed(survey: Survey, sound: Sound, repairs: Sequence[Repair]) -> Survey:
    """Give the survey with the frames of some repairs as they are in the repaired sound.

    Parameters
    ----------
    survey : Survey
        Of the sound as it came.
    sound : Sound
        Repaired.
    """
    power, k_power, peak = survey.power.copy(), survey.k_power.copy(), survey.peak.copy()
    for repair in repairs:
        if repair.state != "made":
            continue
        last = min(repair.stop // FRAME_SAMPLES + _RING_FRAMES, power.size)
        for first in range(repair.start // FRAME_SAMPLES, last, _PART_FRAMES):
            stop = min(first + _PART_FRAMES, last)
            begin = max(0, first - _SETTLE_FRAMES)
            memory = start_survey()
            heard = one_channel(sound.read(begin * FRAME_SAMPLES, stop * FRAME_SAMPLES))
            step_survey(memory, heard)
            again = survey_result(memory)
            inside = slice(first - begin, stop - begin)
            power[first:stop] = again.power[inside]
            k_power[first:stop] = again.k_power[inside]
            peak[first:stop] = again.peak[inside]
    return replace(survey, power=power, k_power=k_power, peak=peak)
