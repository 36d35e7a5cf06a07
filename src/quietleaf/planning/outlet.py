"""Where a programme goes, and what each of these places wants of its sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from quietleaf.errors import Invalid

OutletForm = Literal["wave", "mp3", "telephone", "subcarrier"]
OUTLET_FORMS: tuple[OutletForm, ...] = get_args(OutletForm)
TelephoneLaw = Literal["A-law", "mu-law"]
TELEPHONE_LAWS: tuple[TelephoneLaw, ...] = get_args(TelephoneLaw)


OUTLET_KIND = "outlet:"
"""Before its key, the kind of an outlet's file among what was made of a reading."""
LOUDNESS_LUFS = (-40.0, -9.0)
CEILING_DBTP = (-20.0, 0.0)
LOW_HZ = (20.0, 500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """One place, and the file that is made for it from the master.

    Attributes
    ----------
    key : str
        Lower-case letters, digits and hyphens; part of the file's name.
    form : {"wave", "mp3", "telephone", "subcarrier"}
        A 24-bit wave file; an MP3; a wave file of 8 kHz in G.711; a 24-bit wave file for a
        narrow channel: band-limited, hissing sounds and loudest words turned down a little.
    loudness_lufs : float
        Integrated, counted as ``dual_mono`` says.
    ceiling_dbtp : float
        No true peak of the file, decoded, is higher.
    dual_mono : bool
        The one channel counts as played by two loudspeakers, which reads 3.01 LU more.
    mp3_kbps : int
        Bit rate of an MP3.
    law : {"A-law", "mu-law"}
        Of a telephone's coder: mu-law in North America and Japan, A-law elsewhere.
    low_hz, high_hz : float
        The band of a telephone or a subcarrier.
    """

    key: str
    form: OutletForm
    loudness_lufs: float
    ceiling_dbtp: float = -1.0
    dual_mono: bool = False
    mp3_kbps: int = 64
    law: TelephoneLaw = "mu-law"
    low_hz: float = 80.0
    high_hz: float = 4_800.0


def check_outlet(outlet: Outlet) -> None:
    """Refuse an outlet that no file can be made for.

    Raises
    ------
    Invalid
        With one sentence about the first thing amiss.
    """
    for what, value, (least, most), unit in (
        ("loudness", outlet.loudness_lufs, LOUDNESS_LUFS, "LUFS"),
        ("ceiling of true peaks", outlet.ceiling_dbtp, CEILING_DBTP, "dBTP"),
        ("lower end of the band", outlet.low_hz, LOW_HZ, "Hz"),
        ("upper end of the band", outlet.high_hz, _high_hz(outlet), "Hz"),
    ):
        if not least <= value <= most:
            raise Invalid(
                "planning/outlet",
                f"The {what} of the outlet {outlet.key} lies between {least:g} and {most:g} "
                f"{unit}; {value:g} is not there. Change it.",
            )


def _high_hz(outlet: Outlet) -> tuple[float, float]:
    return (2_000.0, 3_600.0) if outlet.form == "telephone" else (2_000.0, 20_000.0)


USUAL_OUTLETS: dict[str, Outlet] = {
    one.key: one
    for one in (
        Outlet(key="on-air", form="wave", loudness_lufs=-23.0),
        Outlet(key="stream", form="mp3", loudness_lufs=-18.0, mp3_kbps=96),
        Outlet(key="feed", form="mp3", loudness_lufs=-16.0, dual_mono=True),
        Outlet(
            key="telephone",
            form="telephone",
            loudness_lufs=-23.0,
            ceiling_dbtp=-3.0,
            low_hz=150.0,
            high_hz=3_400.0,
        ),
        Outlet(key="subcarrier", form="subcarrier", loudness_lufs=-18.0, ceiling_dbtp=-2.0),
    )
}
"""What is made where a station's file names an outlet and says no more.

EBU R 128 for the air; AES TD1008 for speech in streams (-18); feeds are loud by custom (-16 of two
loudspeakers, -19 of one); the rest is ours.
"""
