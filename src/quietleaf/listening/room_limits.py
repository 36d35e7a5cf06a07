"""What the room check is held against: every limit with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLimits:
    """Limits of the advice before a reading.

    Attributes
    ----------
    silent_dbov : float
        A channel that never gets above it gives nothing: 16 bits reach -98. Ours.
    dead_below_other_db : float
        A channel this far under the other while somebody speaks has no microphone of its own: what
        is in it has leaked across. Ours.
    voice_over_room_db_min : float
        Speech that stands out less from the still seconds was no speech. Ours.
    speech_s_min : float
        Less speech than this in a sentence says nothing. Ours.
    voice_dbov_min, voice_dbov_max : float
        Active speech level (ITU-T P.56). Libraries ask for -23 to -18 of the finished reading;
        the level is set afterwards, so that a wide range is fit to record: quieter drowns in the
        converter's own noise, louder leaves no room for a loud word. Ours; the stand's live
        advice has the same.
    peak_dbfs_max : float
        Peaks over this will clip at the next loud word. Common practice asks for peaks between
        -12 and -6; no source.
    voice_to_noise_db_good : float
        Libraries' -60 dB of noise under speech at -23 dB.
    voice_to_noise_db_min : float
        Under this the noise is told of. Recordings of volunteers that are listened to with pleasure
        come down to 20 (as in `HearingLimits`), the check wants a little more. Ours.
    hum_below_voice_db : float
        Hum nearer to the voice than this, as the ear weighs it, is told of. Ours.
    pops_max : int
        One popped consonant in a sentence made of them is forgiven. Ours.
    echo_s_near, echo_s_far : float
        Decay to -60 dB of a furnished small room and of a bare one, as far as it is heard in a
        voice. Common practice for rooms of speech is 0.2 to 0.4 s; no source for the limits.
    loudspeaker_below_voice_db, leak_below_voice_db : float
        How far under the voice the test sound may be heard again. Headphones on a head leak about
        40 dB less than a voice at 20 cm; loudspeakers in a room about 20 dB less. Ours, unproved
        on real devices.
    bump_over_floor_db : float
        A sound in the still seconds that stands out so far makes them not still. Ours.
    """

    silent_dbov: float = -95.0
    dead_below_other_db: float = 20.0
    voice_over_room_db_min: float = 6.0
    speech_s_min: float = 0.8
    voice_dbov_min: float = -40.0
    voice_dbov_max: float = -13.0
    peak_dbfs_max: float = -1.0
    voice_to_noise_db_good: float = 37.0
    voice_to_noise_db_min: float = 25.0
    hum_below_voice_db: float = 50.0
    pops_max: int = 1
    echo_s_near: float = 0.35
    echo_s_far: float = 0.6
    loudspeaker_below_voice_db: float = 30.0
    leak_below_voice_db: float = 52.0
    bump_over_floor_db: float = 15.0


ROOM_LIMITS = RoomLimits()
