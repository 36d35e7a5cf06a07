"""What a report says of the files that were made for outlets."""

from __future__ import annotations

from collections.abc import Iterable

from quietleaf.delivery.report import Figure, ReportFile
from quietleaf.planning.outlet import Outlet
from quietleaf.work.make_outlet import CLOSE_LU, MadeOutlet


def file_of_outlet(made: MadeOutlet) -> ReportFile:
    """Name the file."""
    outlet = made.outlet
    return ReportFile(
        name=made.file.path.name,
        what=f"{outlet.key}: {_form_words(outlet)}",
        size_bytes=made.file.size_bytes,
    )


def figures_of_outlets(made: Iterable[MadeOutlet]) -> tuple[Figure, ...]:
    """Hold each against what its outlet wants, as it was measured after decoding."""
    return tuple(figure for one in made for figure in _figures(one))


def _figures(made: MadeOutlet) -> tuple[Figure, Figure]:
    outlet, peak = made.outlet, made.heard.peak.true_dbtp
    counted = " of two loudspeakers" if outlet.dual_mono else ""
    return (
        Figure(
            name=f"Loudness{counted}, {outlet.key}",
            unit="LUFS",
            before=None,
            after=made.loudness_lufs,
            target=f"{outlet.loudness_lufs:.1f} \N{PLUS-MINUS SIGN} {CLOSE_LU:.1f}",
            met=abs(made.loudness_lufs - outlet.loudness_lufs) <= CLOSE_LU,
        ),
        Figure(
            name=f"True peak, {outlet.key}",
            unit="dBTP",
            before=None,
            after=peak,
            target=f"at most {outlet.ceiling_dbtp:.1f}",
            met=peak is not None and peak <= outlet.ceiling_dbtp,
        ),
    )


def _form_words(outlet: Outlet) -> str:
    if outlet.form == "mp3":
        return f"MP3, {outlet.mp3_kbps} kbit/s"
    if outlet.form == "telephone":
        return f"8 kHz, G.711 {outlet.law}, {outlet.low_hz:g} to {outlet.high_hz:g} Hz"
    if outlet.form == "subcarrier":
        return f"Broadcast Wave, 24 bits, {outlet.low_hz:g} to {outlet.high_hz:g} Hz"
    return "Broadcast Wave, 24 bits"
