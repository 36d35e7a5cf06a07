"""What recordings are held against: every limit with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

LARGEST_SAMPLE = 1e10
"""Whole numbers of 32 bits kept as floats reach 2.1e9; nothing means more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HearingLimits:
    """Limits of findings and of the verdict.

    Attributes
    ----------
    clip_samples_min : int
        Flat tops shorter than this are not looked at. Ours, from measurements on made faults.
    clip_alone_samples_min : int
        A single flat top of this length is a finding; shorter ones need company within 0.4 s.
        Ours, likewise.
    clip_share_again : float
        Share of the time of speech that may lie in clipping; beyond it the recording is distorted
        throughout. Ours.
    clip_s_stop : float
        Clipping that goes on for as long is no moment any more: it does not go out, whatever the
        review depth. Ours.
    dropout_s_min : float
        Exact zeros in all channels for this long. Ours, from measurements on made faults: no
        false ones on recorded readers.
    dropouts_again_per_hour : float
        More than this many: the way from microphone to disk is broken. Ours.
    dead_air_s : float
        A silence inside a reading longer than this is heard as a fault. Common practice, no
        source.
    long_pause_s : float
        Longer than any pause between paragraphs (0.4 to 1.8 s: Kazlauskiene and Kalasinskaite
        2019), with room to spare; noted, no more. Ours.
    echo_s : float
        A room that sounds on for so long (to -60 dB, as heard in the voice) is heard. Ours: good
        recordings of readers come to 0.24.
    hum_below_speech_db : float
        Hum lies this far under speech, or it is to be heard. Ours: libraries ask for 37 dB of all
        noise, and hum is heard in every pause.
    noise_likelihood, noise_likelihood_fix : float
        How likely a sound is no speech, for it to be noted, and for a sentence to be read again
        because of it. Ours, from measurements on made sessions.
    noise_under_words_likelihood, noise_under_words_likelihood_fix : float
        The same for words that hold a noise. Ours, likewise.
    swell_db, swell_s_min : float
        The room between words rises by this much for this long, and falls back. Ours, likewise.
    breath_over_usual_db : float
        A breath this much over the reader's usual one is loud. Ours.
    breath_over_speech_db : float
        No breath is loud that lies further below the voice's top. Ours.
    noise_below_speech_db_ear, noise_below_speech_db_again : float
        Room noise must lie this far under speech. Libraries ask for -60 dB under speech at -23 to
        -18 dB, 37 dB at least; recordings of volunteers that are listened to with pleasure come
        down to 20. Ours.
    level_step_db : float
        A voice that goes on so much louder or softer after a pause is heard as a jump. Ours, from
        measurements on made sessions.
    pop_over_speech_db : float
        A popped consonant that peaks so far over the level of speech (18 to 65 Hz) is to be heard;
        a softer one is noted. Ours.
    speech_s_min : float
        Less speech than this is no reading. Ours.
    """

    clip_samples_min: int = 3
    clip_alone_samples_min: int = 8
    clip_share_again: float = 0.1
    clip_s_stop: float = 1.0
    dropout_s_min: float = 0.003
    dropouts_again_per_hour: float = 60.0
    dead_air_s: float = 5.0
    long_pause_s: float = 3.0
    echo_s: float = 0.25
    hum_below_speech_db: float = 45.0
    noise_likelihood: float = 0.8
    noise_likelihood_fix: float = 0.95
    noise_under_words_likelihood: float = 0.8
    noise_under_words_likelihood_fix: float = 0.98
    swell_db: float = 8.0
    swell_s_min: float = 4.0
    breath_over_usual_db: float = 8.0
    breath_over_speech_db: float = -18.0
    noise_below_speech_db_ear: float = 20.0
    noise_below_speech_db_again: float = 10.0
    level_step_db: float = 4.0
    pop_over_speech_db: float = 6.0
    speech_s_min: float = 1.0


HEARING_LIMITS = HearingLimits()
