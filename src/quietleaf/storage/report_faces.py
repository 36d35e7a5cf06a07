"""The type that travels inside a report, from the faces that the pages use."""

from __future__ import annotations

from importlib.resources import files

from quietleaf.delivery.report_style import SANS, SERIF, FontFace

_FACES = (
    (SERIF, 400, "eb-garamond-latin-400-normal.woff2"),
    (SANS, 400, "atkinson-hyperlegible-next-latin-400-normal.woff2"),
    (SANS, 700, "atkinson-hyperlegible-next-latin-700-normal.woff2"),
)


def report_faces() -> tuple[FontFace, ...]:
    """Read the faces of a report: some 50 kB, licensed under the OFL, Latin letters.

    Examples
    --------
    >>> [(face.family, face.weight) for face in report_faces()]
    [('EB Garamond', 400), ('Atkinson Hyperlegible Next', 400), ('Atkinson Hyperlegible Next', 700)]
    """
    fonts = files("quietleaf") / "web" / "static" / "fonts"
    return tuple(
        FontFace(family=family, weight=weight, woff2=(fonts / name).read_bytes())
        for family, weight, name in _FACES
    )
