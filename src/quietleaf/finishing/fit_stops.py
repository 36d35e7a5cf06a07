"""Where a programme that is too long could stop: ends of articles, and what that leaves out."""

from __future__ import annotations

from collections.abc import Sequence

from quietleaf.finishing.assembly import laid_place, master_samples
from quietleaf.finishing.fit_entries import StopPlace
from quietleaf.finishing.plan import RATE_HZ, Layout

_STOPS_TOLD = 3


def stops_of(
    layout: Layout, wanted: int, articles: Sequence[tuple[int, str]], could_s: float
) -> tuple[StopPlace, ...]:
    """Name the last ends of articles at which it would fit, fitted or as it is."""
    whole = master_samples(layout)
    found = []
    for number, (place, _) in enumerate(articles):
        ends = [one.stop for one in layout.sentences if one.stop <= place]
        if not ends:
            continue
        length = laid_place(layout, ends[-1]) + layout.tail_samples
        if length / RATE_HZ - could_s > wanted / RATE_HZ:
            break
        found.append(
            StopPlace(
                sample=ends[-1],
                length_s=round(length / RATE_HZ, 3),
                leaves_out_s=round((whole - length) / RATE_HZ, 3),
                leaves_out=tuple(
                    title or f"Article {other}"
                    for other, (_, title) in enumerate(articles[number:], start=number + 1)
                ),
            )
        )
    return tuple(reversed(found[-_STOPS_TOLD:]))
