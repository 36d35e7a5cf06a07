"""What is to be finished, and how; what is not. Loads nothing of what finishing needs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from quietleaf.booth.admission import SETTLED
from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Conflict
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.units import Window

SHORTEST_FIT_S = 5.0
LONGEST_FIT_S = 36_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishProgramme:
    """What is to be finished, and how.

    Attributes
    ----------
    source : str or Path
        A reading's id, or a recording in a file.
    out : Path or None
        Where the files go. A reading's masters lie in its own folder in any case; None there
        means that no copy is wanted. A file needs it.
    window : Window or None
        Least and greatest length; None means the programme's own. What lies outside is fitted
        into it.
    fit_s : float or None
        This length and no other, to the sample.
    short_items : Path or None
        A folder of short recordings that may make up a length; None means the station's own.
    loudness : str
        ``ebu-r128``, ``atsc-a85``, or a number in LUFS.
    dual_mono : bool
        Count the one channel as played by two loudspeakers (+3.01 LU).
    ceiling_dbtp : float
        No true peak of a delivered file is higher; a standard's own ceiling holds where it is
        lower.
    head_s, tail_s : float
        Room tone before the first syllable and after the last word.
    dead_air_s : float
        A silence inside the reading longer than this is shortened.
    mp3_kbps : int
        Bit rate of the MP3.
    outlets : tuple of str or None
        What is made besides, by the keys of outlets; None means the station's.
    plan : Path or None
        A plan that this sound was finished by before: what is refused in it, and what the desk
        changed, is kept, and the rest is planned around it. What the desk decided about a reading
        holds in any case.
    asked_by : str
        Whose wish it is; empty where nobody is known.
    """

    source: str | Path
    out: Path | None = None
    window: Window | None = None
    fit_s: float | None = None
    short_items: Path | None = None
    loudness: str = "ebu-r128"
    dual_mono: bool = False
    ceiling_dbtp: float = -1.0
    head_s: float = 0.5
    tail_s: float = 1.0
    dead_air_s: float = HEARING_LIMITS.dead_air_s
    mp3_kbps: int = 64
    outlets: tuple[str, ...] | None = None
    plan: Path | None = None
    asked_by: str = ""


def refuse_unfinishable(state: ReadingState) -> None:
    """Refuse to finish what is being read, or what is to stay as it is.

    Raises
    ------
    Conflict
    """
    if state in SETTLED:
        raise Conflict(
            "finishing/settled",
            f"This reading is {state}, and what is heard stays as it is. Return it first.",
        )
    if state in ("assigned", "in the booth"):
        raise Conflict(
            "finishing/in-the-booth",
            "This is being read. It can be finished when it is handed in.",
        )
