"""The reading as it stands: spans of takes, in order, and the articles marked in them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A half-open range of one take, in that take's own samples."""

    take: int
    start: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ArticleMark:
    """Where an article begins: a sample of a take."""

    take: int
    sample: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """The edits applied.

    Attributes
    ----------
    spans : tuple of Span
        In programme order; never overlapping, never outside their take.
    articles : tuple of ArticleMark
        In programme order; those whose sample lies in a span.
    """

    spans: tuple[Span, ...]
    articles: tuple[ArticleMark, ...]
