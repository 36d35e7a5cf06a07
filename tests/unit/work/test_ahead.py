"""Reading ahead: the same items, and nothing still being made when whoever takes them stops."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from quietleaf.work.ahead import read_ahead


def test_items_come_in_their_order() -> None:
    with ThreadPoolExecutor(2) as pool:
        assert list(read_ahead(iter(range(100)), pool)) == list(range(100))
        assert list(read_ahead(iter(()), pool)) == []


def test_what_goes_wrong_while_making_comes_to_whoever_takes() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise ValueError("broken")

    with ThreadPoolExecutor(1) as pool:
        ahead = read_ahead(items(), pool)
        assert next(ahead) == 1
        with pytest.raises(ValueError, match="broken"):
            next(ahead)


def test_stopping_early_leaves_nothing_under_way() -> None:
    made: list[int] = []

    def items() -> Iterator[int]:
        for number in range(1_000):
            made.append(number)
            yield number

    with ThreadPoolExecutor(1) as pool:
        ahead = read_ahead(items(), pool)
        assert next(ahead) == 0
        ahead.close()  # type: ignore[attr-defined]  # it is a generator
        # The one after is made ahead, and no other.
        assert made == [0, 1]
