"""What a master is brought to: its loudness, its ceiling, and how its one channel counts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from quietleaf.errors import Invalid

DUAL_MONO_LU = 10.0 * math.log10(2.0)
"""The same sound from two loudspeakers has twice the power (ITU-R BS.1770-5, equation 2)."""
LOUDEST_LUFS = -9.0
QUIETEST_LUFS = -40.0
HIGHEST_CEILING_DBTP = 0.0
LOWEST_CEILING_DBTP = -20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A loudness, a ceiling, and the way of counting.

    Attributes
    ----------
    name : str
        ``ebu-r128``, ``atsc-a85``, or ``own`` for a number.
    loudness_lufs : float
        Integrated loudness, counted as ``dual_mono`` says.
    ceiling_dbtp : float
        No true peak of a delivered file is higher.
    dual_mono : bool
        False: one channel is counted once. True: it is counted as played by two loudspeakers,
        which reads 3.01 LU more.
    """

    name: str
    loudness_lufs: float
    ceiling_dbtp: float
    dual_mono: bool = False

    @property
    def one_channel_lufs(self) -> float:
        """What the delivered one-channel file reads on a meter that counts one channel once."""
        return self.loudness_lufs - (DUAL_MONO_LU if self.dual_mono else 0.0)

    def counted_lufs(self, one_channel_lufs: float) -> float:
        """Turn a one-channel reading into one counted as this target counts."""
        return one_channel_lufs + (DUAL_MONO_LU if self.dual_mono else 0.0)


TARGETS = {
    "ebu-r128": Target(name="ebu-r128", loudness_lufs=-23.0, ceiling_dbtp=-1.0),
    "atsc-a85": Target(name="atsc-a85", loudness_lufs=-24.0, ceiling_dbtp=-2.0),
}
"""EBU R 128 (2023) with Tech 3343; ATSC A/85."""


def target_of_text(text: str, ceiling_dbtp: float = -1.0, dual_mono: bool = False) -> Target:
    """Read a target: a standard's name, or a number in LUFS.

    Parameters
    ----------
    text : str
        ``ebu-r128``, ``atsc-a85``, or a number such as ``-18`` or ``-18 LUFS``.
    ceiling_dbtp : float
        Where a standard has its own ceiling, the lower of the two holds.
    dual_mono : bool
        Count the one channel as played by two loudspeakers.

    Raises
    ------
    Invalid
        If the text is none of these, or the loudness or the ceiling is out of reach.

    Examples
    --------
    >>> target_of_text("atsc-a85")
    Target(name='atsc-a85', loudness_lufs=-24.0, ceiling_dbtp=-2.0, dual_mono=False)
    >>> target_of_text("-18 LUFS", dual_mono=True).one_channel_lufs
    -21.010299956639813
    """
    if not LOWEST_CEILING_DBTP <= ceiling_dbtp <= HIGHEST_CEILING_DBTP:
        raise Invalid(
            "finish/ceiling",
            f"The ceiling of true peaks lies between {LOWEST_CEILING_DBTP:g} and "
            f"{HIGHEST_CEILING_DBTP:g} dBTP; {ceiling_dbtp:g} was given.",
        )
    known = TARGETS.get(text.strip().lower())
    if known is not None:
        return Target(
            name=known.name,
            loudness_lufs=known.loudness_lufs,
            ceiling_dbtp=min(known.ceiling_dbtp, ceiling_dbtp),
            dual_mono=dual_mono,
        )
    number = text.strip().upper().removesuffix("LUFS").removesuffix("LKFS").strip()
    try:
        loudness = float(number)
    except ValueError:
        loudness = math.nan
    if math.isnan(loudness):
        raise Invalid(
            "finish/loudness",
            f"A loudness is {' or '.join(sorted(TARGETS, reverse=True))}, or a number in LUFS "
            f"like -18; this says {text!r}.",
        )
    if not QUIETEST_LUFS <= loudness <= LOUDEST_LUFS:
        raise Invalid(
            "finish/loudness-range",
            f"Speech can be brought to a loudness between {QUIETEST_LUFS:g} and "
            f"{LOUDEST_LUFS:g} LUFS; {loudness:g} was asked for.",
        )
    return Target(
        name="own", loudness_lufs=loudness, ceiling_dbtp=ceiling_dbtp, dual_mono=dual_mono
    )
