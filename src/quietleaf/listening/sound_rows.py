"""Noises on their way to findings: many of a kind in a row are one thing to hear."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from quietleaf.listening.findings import FindingKind

IN_A_ROW_FRAMES = 400
IN_A_ROW_MIN = 4
"""So many of one kind, each within 4 s of the one before, become one finding."""
NAMED_SHARE = 0.4
"""What is less sure to be of its kind is called a noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """One sound, or many of one kind in a row, on its way to a finding.

    Under words one that is ``sure`` asks for the sentence to be read again.
    """

    kind: FindingKind
    start: int
    stop: int
    likelihood: float
    peak_db: float
    covers_words: bool
    sure: bool
    count: int = 1


def in_rows(noises: Iterable[Noise]) -> list[Noise]:
    """Make one of many of a kind in a row; in order of time."""
    by_kind: dict[str, list[Noise]] = {}
    for noise in noises:
        by_kind.setdefault(noise.kind, []).append(noise)
    found: list[Noise] = []
    for of_kind in by_kind.values():
        rows: list[list[Noise]] = []
        for noise in of_kind:
            if rows and noise.start - rows[-1][-1].stop <= IN_A_ROW_FRAMES:
                rows[-1].append(noise)
            else:
                rows.append([noise])
        for row in rows:
            found += [_row(row)] if len(row) >= IN_A_ROW_MIN else row
    return sorted(found, key=lambda noise: noise.start)


def _row(row: list[Noise]) -> Noise:
    return Noise(
        kind=row[0].kind,
        start=row[0].start,
        stop=row[-1].stop,
        likelihood=max(noise.likelihood for noise in row),
        peak_db=max(noise.peak_db for noise in row),
        covers_words=any(noise.covers_words for noise in row),
        sure=any(noise.sure for noise in row),
        count=len(row),
    )
