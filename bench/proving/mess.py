"""How messy a session is: how often each fault comes, and what it was recorded with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

How = Literal["warped", "true"]
Floor = Literal["pink", "roomtone"]
Microphone = Literal["plain", "dark", "bright", "thin", "boxy", "narrow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mess:
    """Rates are per minute of session; 0 is never.

    Attributes
    ----------
    how : {"warped", "true"}
        A sentence read again is the same clip changed, or another recording of the same words.
    alike, refrains, doubled : float
        No faults: sentences that begin alike, that return, that say a word twice.
    breaths : float
        Loud ones. ``natural_breaths`` is the share of pauses that hold a natural one.
    under_speech : float
        Share of rustles, coughs, clicks and noises that lie under speech.
    repeats, drops : float
        Blocks of samples that play twice, and that are missing.
    steps, tone_steps, floor_steps : float
        Of level, of tone, of the room's noise, after a break.
    voices : float
        Somebody else speaks in the room.
    speech_dbov, floor_dbfs : (least, most)
        Level of the speech while it is active, and of the floor that is added (both RMS); drawn.
    room : int or None
        Number of the impulse response that the voice is heard through.
    wide : bool
        Mixed at the sampling rate that comes out (48 kHz if none is asked for), so that noises have
        what the voice has not; else at the voice's own.
    band_hz : float or None
        Nothing above this; as from a narrow origin.
    coded_kbps : int or None
        Coded as MP3 and back, before faults of samples.
    """

    how: How = "warped"
    restarts: float = 0.0
    alike: float = 0.0
    refrains: float = 0.0
    doubled: float = 0.0
    natural_breaths: float = 0.35
    rustles: float = 0.0
    coughs: float = 0.0
    clicks: float = 0.0
    noises: float = 0.0
    breaths: float = 0.0
    voices: float = 0.0
    under_speech: float = 0.25
    pops: float = 0.0
    clips: float = 0.0
    dropouts: float = 0.0
    repeats: float = 0.0
    drops: float = 0.0
    hums: float = 0.0
    beds: float = 0.0
    echoes: float = 0.0
    steps: float = 0.0
    tone_steps: float = 0.0
    floor_steps: float = 0.0
    dead_airs: float = 0.0
    speech_dbov: tuple[float, float] = (-27.0, -20.0)
    floor_dbfs: tuple[float, float] = (-75.0, -58.0)
    floor: Floor = "pink"
    room: int | None = None
    wide: bool = False
    band_hz: float | None = None
    microphone: Microphone = "plain"
    coded_kbps: int | None = None


CLEAN = Mess(alike=0.15, refrains=0.15, doubled=0.15)
TYPICAL = Mess(
    restarts=1.0,
    alike=0.3,
    refrains=0.2,
    doubled=0.2,
    rustles=0.5,
    coughs=0.4,
    clicks=0.5,
    noises=0.5,
    breaths=0.3,
    voices=0.1,
    pops=0.5,
    clips=0.3,
    dropouts=0.2,
    repeats=0.1,
    drops=0.1,
    hums=0.1,
    beds=0.1,
    echoes=0.08,
    steps=0.2,
    tone_steps=0.04,
    floor_steps=0.04,
    dead_airs=0.2,
)
DENSE = replace(
    TYPICAL,
    restarts=2.0,
    rustles=1.2,
    coughs=1.0,
    clicks=1.2,
    noises=1.2,
    breaths=0.7,
    voices=0.2,
    pops=1.2,
    clips=0.7,
    dropouts=0.5,
    repeats=0.3,
    drops=0.3,
    hums=0.2,
    beds=0.2,
    echoes=0.15,
    steps=0.35,
    dead_airs=0.4,
)
_NOISY = replace(
    CLEAN,
    restarts=2.0,
    alike=0.5,
    refrains=0.3,
    doubled=0.3,
    rustles=0.4,
    coughs=0.3,
    clicks=0.4,
    noises=0.3,
)
RESTARTS_WARPED = replace(_NOISY, how="warped")
RESTARTS_TRUE = replace(_NOISY, how="true")
