"""Read ahead: the next item is made on another thread while this one is used."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from typing import TypeVar

T = TypeVar("T")


def read_ahead(items: Iterator[T], pool: ThreadPoolExecutor) -> Iterator[T]:
    """Give the same items in the same order, each made while the one before is used.

    When whoever takes them stops, nothing is still being made.

    Examples
    --------
    >>> with ThreadPoolExecutor(1) as pool:
    ...     list(read_ahead(iter("abc"), pool))
    ['a', 'b', 'c']
    """
    coming = pool.submit(_next, items)
    try:
        while (found := coming.result()) is not None:
            coming = pool.submit(_next, items)
            yield found[0]
    finally:
        wait([coming])


def _next(items: Iterator[T]) -> tuple[T] | None:
    for item in items:
        return (item,)
    return None
