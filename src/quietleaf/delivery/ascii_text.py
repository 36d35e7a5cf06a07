"""Text for fields that hold ASCII alone."""

from __future__ import annotations

import unicodedata

_SPELT = {
    "ß": "ss",
    "Æ": "AE",
    "æ": "ae",
    "Œ": "OE",
    "œ": "oe",
    "Ø": "O",
    "ø": "o",
    "Đ": "D",
    "đ": "d",
    "Ð": "D",
    "ð": "d",
    "Þ": "Th",
    "þ": "th",
    "Ł": "L",
    "ł": "l",
    "ı": "i",
    "‘": "'",
    "’": "'",
    "‚": "'",
    "“": '"',
    "”": '"',
    "„": '"',
    "«": '"',
    "»": '"',
    "–": "-",
    "—": "-",
    "−": "-",
    "‐": "-",
    "…": "...",
    "×": "x",
    "·": "-",
    "•": "-",
    "€": "EUR",
    "£": "GBP",
    "©": "(c)",
    "№": "No",
    "⁄": "/",
}


def ascii_of_text(text: str) -> bytes:
    r"""Spell a text in printable ASCII.

    The rule, in this order: letters and signs that have a common spelling take it (ß becomes ss,
    ø becomes o, a curly quote a straight one, a dash a hyphen); any other letter loses its accent
    (Unicode compatibility decomposition, marks dropped); line ends, tabs and other white space
    become one space; control characters go; what is left over becomes a question mark, one each.

    Examples
    --------
    >>> ascii_of_text("Søren Ångström — “Größe”, 5 £")
    b'Soren Angstrom - "Grosse", 5 GBP'
    >>> ascii_of_text("日\n本")
    b'? ?'
    """
    spelt = "".join(_SPELT.get(letter, letter) for letter in text)
    kept = []
    for letter in unicodedata.normalize("NFKD", spelt):
        # A compatibility decomposition can itself give a sign of the table (a spaced accent, an
        # ellipsis in a wide form), so the table is asked once more.
        for part in _SPELT.get(letter, letter):
            if part.isspace():
                kept.append(" ")
            elif part.isascii():
                if part.isprintable():
                    kept.append(part)
            elif unicodedata.category(part)[0] not in "MC":
                kept.append("?")
    return "".join(kept).encode("ascii")
