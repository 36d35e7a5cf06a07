"""Texts whose words come back, and rooms by formula."""

from __future__ import annotations

import itertools

import numpy as np

from bench.made_rooms import RATE_HZ, made_rooms
from bench.made_texts import begun_alike, made_texts


def test_words_come_back_in_many_of_the_texts_but_no_text_does() -> None:
    draw = np.random.default_rng(5)
    back = 0
    groups = [made_texts(draw) for _ in range(60)]
    for texts in groups:
        assert all(text[0].isupper() and text[-1] in ".," for text in texts)

        pairs = list(itertools.pairwise(texts))
        assert all(one != other for one, other in pairs)
        back += any(one.split()[:2] == other.split()[:2] for one, other in pairs)
    assert 15 <= back <= 50


def test_what_begins_alike_goes_on_otherwise() -> None:
    draw = np.random.default_rng(6)
    text = "The council told us that the ferry near the castle park is closed."
    others = [begun_alike(text, draw) for _ in range(10)]
    assert all(other.split()[:2] == text.split()[:2] for other in others)
    assert text not in others


def test_rooms_die_away() -> None:
    rooms = made_rooms(3)
    for room in rooms:
        assert room.samples[0] == 1.0
        tail = room.samples[round(0.004 * RATE_HZ) :]
        quarters = [float(part @ part) for part in np.array_split(tail, 4)]
        assert all(np.diff(quarters) < 0.0)
        # 60 dB over the whole: the last quarter lies at least 30 dB under the first.
        assert quarters[3] < 1e-3 * quarters[0]
    assert np.array_equal(rooms[0].samples, made_rooms(1)[0].samples)
