"""Text for fields that hold ASCII alone."""

from __future__ import annotations

import pytest

from quietleaf.delivery.ascii_text import ascii_of_text


@pytest.mark.parametrize(
    ("text", "spelt"),
    [
        ("", b""),
        ("Plain words, as they are.", b"Plain words, as they are."),
        ("Čapek, Đặng, Łódź, Þór, œuvre", b"Capek, Dang, Lodz, Thor, oeuvre"),
        ("“Don’t” – she said… £5", b'"Don\'t" - she said... GBP5'),
        ("two\r\nlines\tand a\u00a0hard space", b"two  lines and a hard space"),
        ("bell\x07 and NUL\0", b"bell and NUL"),
        ("ﬁ ½ ™", b"fi 1/2 TM"),
        ("日本", b"??"),
        ("e\u0301", b"e"),
        ("\ud800", b""),
    ],
)
def test_spelling(text: str, spelt: bytes) -> None:
    assert ascii_of_text(text) == spelt
