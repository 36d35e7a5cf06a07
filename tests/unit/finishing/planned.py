"""Helpers of these tests: a survey, layout and a plan of samples at hand."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.make_plan import Wishes, make_plan
from quietleaf.finishing.plan import Layout, Plan
from quietleaf.finishing.survey import Survey, start_survey, step_survey, survey_result
from quietleaf.finishing.targets import target_of_text
from quietleaf.units import Window
from tests.voices import Held

ENDS = Ends(head_s=0.5, tail_s=1.0)


def survey_of(samples: NDArray[np.float64]) -> Survey:
    memory = start_survey()
    step_survey(memory, samples)
    return survey_result(memory)


def layout_of(
    samples: NDArray[np.float64],
    ends: Ends = ENDS,
    articles: tuple[int, ...] = (),
    span_starts: tuple[int, ...] = (),
    joins: tuple[int, ...] = (),
) -> Layout:
    return plan_layout(survey_of(samples), Held(samples), ends, articles, span_starts, joins=joins)


def plan_of(
    samples: NDArray[np.float64],
    loudness: str = "ebu-r128",
    *,
    window: Window | None = None,
    dual_mono: bool = False,
) -> Plan:
    wishes = Wishes(
        target=target_of_text(loudness, dual_mono=dual_mono),
        ends=ENDS,
        window=window,
        mp3_kbps=64,
    )
    return make_plan(survey_of(samples), Held(samples), wishes)
