"""What measurements are held against: one record, each number with its source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HearingLimits:
    """Limits of findings and of the verdict.

    Attributes
    ----------
    dead_air_s : float
        A silence inside a reading longer than this is a finding (common practice, no source).
    dropout_s : float
        Exact zeros for this long beside speech are a dropout; no microphone gives them. Ours,
        from trials on recordings with made faults.
    clip_runs : int
        Flat tops within 0.4 s that make a finding; one or two are what full scale does to a
        single peak. Ours, from the same trials.
    clip_run_samples : int
        A single flat top of this many samples is a finding by itself. Ours.
    clip_share_of_peak : float
        Flat tops lower than this share of the whole recording's peak are how somebody's voice
        looks, not what a limit did to it. Ours.
    clips_a_minute : float
        From here on a reading is to be read again. Ours.
    speech_over_floor_db : float
        Active speech less than this above the floor needs an ear. Ours; a library's figures
        (speech at -23 to -18 dB, floor at most -60 dB) come to 37 dB and more.
    speech_over_floor_least_db : float
        Less than this is to be read again. Ours.
    speech_s_min : float
        With less speech than this there is no reading. Ours.
    """

    dead_air_s: float = 5.0
    dropout_s: float = 0.003
    clip_runs: int = 2
    clip_run_samples: int = 8
    clip_share_of_peak: float = 0.5
    clips_a_minute: float = 6.0
    speech_over_floor_db: float = 25.0
    speech_over_floor_least_db: float = 12.0
    speech_s_min: float = 1.0


HEARING_LIMITS = HearingLimits()
