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
        first = repair.start // FRAME_SAMPLES
        stop = min(repair.stop // FRAME_SAMPLES + _RING_FRAMES, power.size)
        if first >= stop:
            continue
        begin = max(0, first - _SETTLE_FRAMES)
        memory = start_survey()
        step_survey(memory, one_channel(sound.read(begin * FRAME_SAMPLES, stop * FRAME_SAMPLES)))
        again = survey_result(memory)
        inside = slice(first - begin, stop - begin)
        power[first:stop] = again.power[inside]
        k_power[first:stop] = again.k_power[inside]
        peak[first:stop] = again.peak[inside]
    return replace(survey, power=power, k_power=k_power, peak=peak)
