"""A reader of prompts that begin alike, on made ones."""

from __future__ import annotations

import numpy as np

from bench.prompt_reader import PromptReader
from bench.prompts import RATE_HZ, Prompt

TEXTS = (
    "please enter your number now",
    "please enter your number again",
    "please enter the code",
    "nobody is here today",
)


def reader() -> PromptReader:
    draw = np.random.default_rng(1)
    return PromptReader(
        [
            Prompt(
                name=text,
                words=tuple(text.split()),
                samples=0.1 * draw.normal(size=2 * RATE_HZ),
            )
            for text in TEXTS
        ]
    )


def test_what_is_read_again_begins_with_the_same_words_and_is_another_recording() -> None:
    draw = np.random.default_rng(2)
    read = reader()
    for _ in range(20):
        said = read.next(frozenset(), draw)
        assert said is not None
        again = read.again(said, draw)
        if said.name.startswith("nobody"):
            assert again is None
            continue
        assert again is not None
        assert again.name != said.name
        count = len(said.words)
        assert count >= 2
        assert [word for word, _, _ in again.words] == [word for word, _, _ in said.words]
        assert again.name.split()[:count] == said.name.split()[:count]


def test_what_is_barred_is_not_said() -> None:
    said = reader().next(frozenset({"please enter"}), np.random.default_rng(3))
    assert said is not None
    assert said.name == TEXTS[3]
