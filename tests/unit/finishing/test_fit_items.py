"""Short items chosen: the best sum, held against trying every choice."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from quietleaf.finishing.fit_items import ITEMS_MOST, Offer, chosen_items


def offers(*lengths: int) -> tuple[Offer, ...]:
    return tuple(
        Offer(key=str(number), title=f"Item {number}", samples=length, loudness_lufs=-23.0)
        for number, length in enumerate(lengths)
    )


@settings(max_examples=150, deadline=None)
@given(lengths=st.lists(st.integers(1, 200), max_size=9), most=st.integers(1, 900))
def test_no_other_choice_comes_nearer_or_needs_fewer(lengths: list[int], most: int) -> None:
    found = chosen_items(offers(*lengths), most)
    reached = sum(one.samples for one in found)
    sums = [
        (sum(choice), -count)
        for count in range(ITEMS_MOST + 1)
        for choice in combinations(lengths, count)
        if sum(choice) <= most
    ]
    assert (reached, -len(found)) == max(sums)


def test_each_item_is_taken_once() -> None:
    found = chosen_items(offers(60, 60, 30), 180)
    assert sorted(one.key for one in found) == ["0", "1", "2"]
