"""Known words in real speech: where each lies, by forced alignment with a general recogniser.

The recogniser and its model of English come in a package of the tests that may be absent.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

RATE_HZ = 16_000


def words_of(text: str) -> list[str]:
    """Give the words of a text as the recogniser spells them.

    Examples
    --------
    >>> words_of("She's here: 'Well', she said.")
    ["she's", 'here', 'well', 'she', 'said']
    """
    return [word.strip("'") for word in re.findall(r"[a-z']+", text.lower()) if word.strip("'")]


def are_known(text: str) -> bool:
    """Say whether the recogniser knows how every word of a text is spoken."""
    from pocketsphinx import Decoder

    decoder = Decoder(lm=None, loglevel="FATAL")
    return all(decoder.lookup_word(word) for word in words_of(text))


def align(
    samples: NDArray[np.float64], sample_rate_hz: int, text: str
) -> list[tuple[str, float, float]]:
    """Align a text with its sound: words with where they begin and end, in seconds.

    Raises
    ------
    ValueError
        If the words cannot be laid along the sound at all.
    """
    from pocketsphinx import Decoder

    decoder = Decoder(lm=None, loglevel="FATAL")
    heard = resample_poly(samples, RATE_HZ, sample_rate_hz)
    decoder.set_align_text(" ".join(words_of(text)))
    decoder.start_utt()
    pcm = np.clip(heard / max(1e-9, float(np.abs(heard).max())) * 20_000, -32_768, 32_767)
    decoder.process_raw(pcm.astype("<i2").tobytes(), full_utt=True)
    decoder.end_utt()
    if decoder.hyp() is None:
        raise ValueError("the words do not lie along this sound")
    return [
        (segment.word.split("(")[0], segment.start_frame / 100, segment.end_frame / 100)
        for segment in decoder.seg()
        if segment.word[0] not in "<["
    ]
