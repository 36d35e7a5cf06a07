"""The Broadcast Wave extension (bext, version 2): who, what, when, how loud, how coded."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from quietleaf.delivery.ascii_text import ascii_of_text
from quietleaf.finishing.targets import Target

FIXED_BYTES = 602
"""Everything before the coding history."""

UNKNOWN = 0x7FFF
"""Stored where a loudness value is not known."""

Coding = Literal["ANALOGUE", "PCM", "MPEG1L1", "MPEG1L2", "MPEG1L3"]
Mode = Literal["mono", "stereo", "dual-mono", "joint-stereo"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodingStep:
    """One line of the coding history; the oldest step comes first.

    Attributes
    ----------
    kbps_per_channel : int or None
        For MPEG alone.
    bits : int or None
        Word length; for PCM alone.
    text : str
        What was done, in a few words. Commas become semicolons: a comma ends a field.
    """

    coding: Coding
    sample_rate_hz: int
    mode: Mode
    bits: int | None = None
    kbps_per_channel: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BroadcastLoudness:
    """Measured loudness as a file carries it; None where there is no measurement."""

    integrated_lufs: float | None = None
    range_lu: float | None = None
    true_peak_dbtp: float | None = None
    momentary_max_lufs: float | None = None
    short_term_max_lufs: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroadcastExtension:
    """What a Broadcast Wave file says of itself.

    Attributes
    ----------
    description : str
        At most 256 characters survive; the rest is cut.
    originator : str
        The service; at most 32 characters.
    originator_reference : str
        A name of this sound that is unique at the originator; at most 32 characters.
    recorded_at : datetime or None
        When the first sample was recorded, in the zone of the station: date and time are written
        as that zone's clock showed them. None leaves both blank and the time reference 0.
    sample_rate_hz : int
        The file's own; the time reference counts its samples since midnight.
    loudness : BroadcastLoudness
        As any meter reads it off the file, its one channel counted once; that a target was counted
        as dual mono is said in the history.
    """

    description: str
    originator: str
    originator_reference: str = ""
    recorded_at: datetime | None = None
    sample_rate_hz: int = 48_000
    loudness: BroadcastLoudness = field(default_factory=BroadcastLoudness)
    coding_history: tuple[CodingStep, ...] = ()


def bext_bytes(extension: BroadcastExtension) -> bytes:
    """Write the data of a bext chunk, version 2, without the chunk's own header.

    Parameters
    ----------
    extension : BroadcastExtension

    Returns
    -------
    data : bytes, at least 602, even
        Text is ASCII by the rule of :func:`quietleaf.delivery.ascii_text.ascii_of_text`, cut to
        its field and filled with NUL. The UMID is zero: none was assigned.

    Notes
    -----
    Layout of [1]_; coding history of [2]_. A master is finished at 48 kHz from sound that may have
    been recorded at another rate; its time reference counts samples of the file itself.

    References
    ----------
    .. [1] EBU Tech 3285 version 2 (May 2011), 2.3 and 2.4.
    .. [2] EBU R 98-1999.

    Examples
    --------
    >>> data = bext_bytes(BroadcastExtension(description="Letters", originator="Marrowby"))
    >>> len(data), data[:7], data[346:348]
    (602, b'Letters', b'\\x02\\x00')
    """
    at = extension.recorded_at
    reference = 0 if at is None else time_reference_samples(at, extension.sample_rate_hz)
    loudness = extension.loudness
    fixed = struct.pack(
        "<256s32s32s10s8sIIH64s5h180x",
        ascii_of_text(extension.description),
        ascii_of_text(extension.originator),
        ascii_of_text(extension.originator_reference),
        b"" if at is None else at.date().isoformat().encode("ascii"),
        b"" if at is None else at.strftime("%H:%M:%S").encode("ascii"),
        reference & 0xFFFF_FFFF,
        reference >> 32,
        2,
        b"",
        hundredths(loudness.integrated_lufs),
        hundredths(loudness.range_lu),
        hundredths(loudness.true_peak_dbtp),
        hundredths(loudness.momentary_max_lufs),
        hundredths(loudness.short_term_max_lufs),
    )
    history = "".join(coding_history_line(step) for step in extension.coding_history)
    data = fixed + history.encode("ascii")
    return data + b"\0" * (len(data) % 2)


def hundredths(value: float | None) -> int:
    """Give a loudness value as stored: hundredths, halves away from zero.

    Parameters
    ----------
    value : float or None
        LUFS, LU or dBTP. None, NaN, an infinite level and what does not fit give 0x7FFF,
        "not known".

    Notes
    -----
    EBU Tech 3285 version 2, 2.4. Binary numbers cannot hold 12.765, so the shortest decimal that
    reads back as the value is what is rounded.

    Examples
    --------
    >>> [hundredths(value) for value in (-22.644, -22.645, 12.764, 12.765, None)]
    [-2264, -2265, 1276, 1277, 32767]
    """
    if value is None or not -400.0 < value < 400.0:
        return UNKNOWN
    scaled = (Decimal(repr(float(value))) * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return int(scaled) if -0x8000 <= scaled < UNKNOWN else UNKNOWN


def time_reference_samples(at: datetime, sample_rate_hz: int) -> int:
    """Count samples from midnight to a time of day, by the clock on the wall.

    On a night when the clocks change, the count goes with what the clock showed: that is the time
    of day that stands beside it in the file.

    Examples
    --------
    >>> time_reference_samples(datetime(2026, 11, 25, 10, 30), 48_000)
    1814400000
    """
    whole_s = at.hour * 3600 + at.minute * 60 + at.second
    return whole_s * sample_rate_hz + at.microsecond * sample_rate_hz // 1_000_000


def coding_history_line(step: CodingStep) -> str:
    """Write one step as EBU R 98 lays it out.

    Examples
    --------
    >>> coding_history_line(
    ...     CodingStep(coding="PCM", sample_rate_hz=48_000, bits=24, mode="mono", text="a, b")
    ... )
    'A=PCM,F=48000,W=24,M=mono,T=a; b\\r\\n'
    """
    fields = [f"A={step.coding}", f"F={step.sample_rate_hz}"]
    if step.kbps_per_channel is not None:
        fields.append(f"B={step.kbps_per_channel}")
    if step.bits is not None:
        fields.append(f"W={step.bits}")
    fields.append(f"M={step.mode}")
    # Spelt first: a wide comma becomes a comma only then.
    text = " ".join(ascii_of_text(step.text).decode("ascii").replace(",", ";").split())
    if text:
        fields.append(f"T={text}")
    return ",".join(fields) + "\r\n"


def mastering_step(target: Target, sample_rate_hz: int, made_by: str) -> CodingStep:
    """Give the line that a master adds to the history: what it was brought to, and how counted.

    Parameters
    ----------
    made_by : str
        Program and version.

    Examples
    --------
    >>> ebu = Target(name="ebu-r128", loudness_lufs=-23.0, ceiling_dbtp=-1.0)
    >>> mastering_step(ebu, 48_000, "Quietleaf 0.1.0").text
    'Quietleaf 0.1.0; -23.0 LUFS as one channel; at most -1.0 dBTP'
    """
    counted = (
        f"as dual mono: {target.one_channel_lufs:.1f} LUFS by the one channel alone"
        if target.dual_mono
        else "as one channel"
    )
    return CodingStep(
        coding="PCM",
        sample_rate_hz=sample_rate_hz,
        bits=24,
        mode="mono",
        text=f"{made_by}; {target.loudness_lufs:.1f} LUFS {counted}; "
        f"at most {target.ceiling_dbtp:.1f} dBTP",
    )
