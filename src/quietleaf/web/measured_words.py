"""What was measured for an entry of a finishing plan, in words: every name that a plan has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quietleaf.delivery.report_words import KEPT, number


@dataclass(frozen=True, slots=True)
class Named:
    """A measured value as people say it.

    Attributes
    ----------
    label : str
    unit : str
        Empty for a count, and where a value says yes or no.
    decimals : int
    scale : float
        What the value is multiplied by to be in this unit.
    """

    label: str
    unit: str
    decimals: int = 1
    scale: float = 1.0


MEASURED: dict[str, Named] = {
    # Head, tail and pauses.
    "first_syllable_s": Named("first syllable at", "s", 2),
    "last_word_s": Named("last word ends at", "s", 2),
    "voiced_s": Named("voice in that word", "s", 2),
    "speech_dbov": Named("the voice", "dBov"),
    "floor_dbov": Named("the room", "dBov"),
    "length_s": Named("length", "s", 2),
    "peak_dbov": Named("its peak", "dBov"),
    "under_speech_db": Named("under the voice by", "dB"),
    "own_s": Named("undisturbed room of its own", "s", 2),
    "quiet_found_s": Named("room tone found near by", "s", 2),
    "pause_s": Named("the pause", "s", 2),
    "becomes_s": Named("becomes", "s", 2),
    "free_s": Named("of it undisturbed", "s", 2),
    "level_at_cut_dbov": Named("loudest where it is joined", "dBov"),
    # Joins.
    "likelihood": Named("how likely it was read twice", "%", 0, 100.0),
    "limit_likelihood": Named("sure from", "%", 0, 100.0),
    "wanted_s": Named("wanted", "s", 2),
    "old_room_s": Named("room before the join", "s", 2),
    "new_room_s": Named("room after the join", "s", 2),
    "guard_s": Named("kept before the first word", "s", 2),
    "breath": Named("breaths taken along", "", 0),
    "early_s": Named("voice before the lead-in ended", "s", 2),
    "over_room_db": Named("over the room by", "dB"),
    "step_db": Named("step of the room", "dB"),
    "own_step_db": Named("steps that the room takes by itself", "dB"),
    "band_step": Named("greatest step of a band", "", 2),
    "own_band_step": Named("steps that a band takes by itself", "", 2),
    "edge_db": Named("step at its edges", "dB"),
    "apart_db": Named("apart from the rest by", "dB"),
    "speech_s": Named("told from speech of", "s"),
    # Repairs.
    "dc": Named("offset", "% of full scale", 3, 100.0),
    "removed_dbov": Named("taken away in all", "dBov"),
    "runs": Named("flat tops", "", 0),
    "longest_samples": Named("the longest", "samples", 0),
    "limit_samples": Named("can be given back up to", "samples", 0),
    "after_runs": Named("flat tops afterwards", "", 0),
    "peak_up_db": Named("the peak rises by", "dB"),
    "gap_ms": Named("the gap", "ms"),
    "limit_ms": Named("can be hidden up to", "ms"),
    "before_db": Named("the gap against what is around", "dB"),
    "over_voice_db": Named("over the voice by", "dB"),
    "under_voice_db": Named("under the voice by", "dB"),
    "over_db": Named("it stood at", "dB"),
    "limit_db": Named("limit", "dB"),
    "after_db": Named("afterwards", "dB"),
    "mains_hz": Named("the mains", "Hz", 3),
    # Length.
    "length_before_s": Named("it was", "s", 2),
    "pauses_could_s": Named("pauses could give", "s", 2),
    "pauses_could_naturally_s": Named("of that within what readers do", "s", 2),
    "pace_could_s": Named("the pace could give", "s", 2),
    "pauses_s": Named("pauses gave", "s", 2),
    "pace_s": Named("the pace gave", "s", 2),
    "items_s": Named("short items gave", "s", 2),
    "room_tone_s": Named("room tone gave", "s", 2),
    "leaves_out_s": Named("leaves out", "s"),
    "changed_s": Named("changed by", "s", 3),
    "changed_percent": Named("that is", "%", 2),
    "loudness_lufs": Named("its loudness", "LUFS"),
    "reading_lufs": Named("the reading’s", "LUFS"),
    # Loudness.
    "loudness_before_lufs": Named("loudness before", "LUFS"),
    "tried_gain_db": Named("gain that was tried", "dB"),
    "tried_loudness_lufs": Named("gave", "LUFS"),
    "limiter_takes_lu": Named("the limiter takes", "LU", 2),
    "most_reduction_db": Named("at the loudest moment", "dB"),
    "share_reduced": Named("for so much of the time", "%", 2, 100.0),
    "master_lufs": Named("the master", "LUFS"),
    "limiter_lost_lu": Named("the limiter takes", "LU", 2),
    "reduction_db": Named("at the loudest moment", "dB"),
}


def measured_words(measured: Mapping[str, float]) -> str:
    """Say what was measured, in the order in which the plan has it; empty where nothing was.

    A name that a newer version measures stands as it is.

    Examples
    --------
    >>> measured_words({"pause_s": 0.512, "likelihood": 0.97}).replace(KEPT, " ")
    'Measured: the pause 0.51 s, how likely it was read twice 97 %.'
    """
    told = []
    for name, value in measured.items():
        named = MEASURED.get(name) or Named(name.replace("_", " "), "", 2)
        said = number(value * named.scale, named.decimals)
        told.append(f"{named.label} {said}{KEPT}{named.unit}".rstrip(KEPT))
    return f"Measured: {', '.join(told)}." if told else ""
