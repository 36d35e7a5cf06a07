"""How an English word that no dictionary has may be spoken, guessed from its letters.

First from two words that the dictionary has ("Sallow-gate"), or one and a usual ending; then by
rules of spelling, longest first. Names are spoken in many ways: several guesses are given, and
whoever aligns takes the one that lies best. Sounds are ARPAbet without stress, as in the CMU
Pronouncing Dictionary.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import islice, product

Sounds = tuple[str, ...]
Known = Callable[[str], Sequence[Sounds]]
"""Gives the sounds of a word that a dictionary has; nothing for others."""

MOST_GUESSES = 8
_SHORTEST_PART = 3

_VOWELS = "aeiouy"
# Letters, where they count (^ begins a word, $ ends one, _ both or neither), and their sounds; `|`
# parts the ways of saying it. The first that fits is taken.
_RULES: tuple[tuple[str, str], ...] = tuple(
    (letters, sounds)
    for line in """
    ^kn N
    ^gn N
    ^wr R
    ^ps S
    ^wh W
    ^mc M AH K|M AE K
    ^mac M AH K|M AE K
    ^rh R
    ^x Z
    ^s S
    tion$ SH AH N
    sion$ ZH AH N|SH AH N
    ough$ OW|AH F|AW
    borough$ B ER OW|B R AH
    burgh$ B ER G|B R AH
    bury$ B EH R IY|B R IY
    shire$ SH ER|SH AY R
    ford$ F ER D|F AO R D
    mouth$ M AH TH
    worth$ W ER TH
    wick$ W IH K|IH K
    wich$ W IH CH|IH JH
    ham$ AH M|HH AE M
    land$ L AH N D|L AE N D
    stone$ S T AH N|S T OW N
    ton$ T AH N
    son$ S AH N
    man$ M AH N
    ley$ L IY
    dale$ D EY L
    gate$ G EY T
    ville$ V IH L
    by$ B IY
    ey$ IY|EY
    ie$ IY
    y$ IY|AY
    ia$ IY AH
    a$ AH
    o$ OW
    e$ -|AH|EY
    es$ Z|IH Z|S
    ed$ D|IH D|T
    er$ ER
    or$ ER|AO R
    ar$ ER|AA R
    le$ AH L
    que$ K
    gue$ G
    tch CH
    sch SH|S K
    chr K R
    ch CH|K|SH
    ck K
    cc K
    ph F
    sh SH
    th TH|DH
    ght T
    gh G|-
    wh W
    qu K W
    ng NG|NG G
    nk NG K
    nx NG K S
    dge JH
    ss S
    zz Z|T S
    ll L
    ff F
    mm M
    nn N
    pp P
    rr R
    tt T
    bb B
    dd D
    gg G
    kk K
    aigh EY
    eigh EY|AY
    igh AY
    augh AO
    ough AO|AW|OW
    air EH R
    are EH R
    ear IH R|ER|EH R
    eer IH R
    ier IH R|IY ER
    oor AO R
    our AO R|AW R
    ore AO R
    ire AY R
    ure Y UH R|ER
    oar AO R
    aar AA R
    ar AA R
    er ER
    ir ER
    or AO R
    ur ER
    ai EY
    ay EY
    au AO|AW
    aw AO
    aa AA
    ae IY|EY
    ea IY|EH
    ee IY
    ei AY|IY|EY
    eu Y UW
    ew UW|Y UW
    ey EY|IY
    ie IY|AY
    oa OW
    oe OW|UW
    oi OY
    oo UW|UH
    ou AW|UW|AH
    ow OW|AW
    oy OY
    ue UW
    ui UW|IH
    uy AY
    """.strip().splitlines()
    for letters, sounds in [line.strip().split(" ", 1)]
)
_LETTERS = {
    "b": "B", "d": "D", "f": "F", "h": "HH", "j": "JH|Y", "k": "K", "l": "L", "m": "M",
    "n": "N", "p": "P", "q": "K", "r": "R", "s": "S|Z", "t": "T", "v": "V", "w": "W", "x": "K S",
    "z": "Z",
}  # fmt: skip
_SHORT = {"a": "AE|AA|AH", "e": "EH|AH", "i": "IH|IY", "o": "AA|OW|AO", "u": "AH|UW", "y": "IH"}
_LONG = {"a": "EY|AA", "e": "IY|EH", "i": "AY|IY", "o": "OW", "u": "UW|Y UW", "y": "AY"}
_ENDINGS: tuple[tuple[str, Sounds], ...] = (
    ("'s", ("Z",)),
    ("s", ("Z",)),
    ("ers", ("ER", "Z")),
    ("er", ("ER",)),
    ("ing", ("IH", "NG")),
    ("ed", ("D",)),
    ("y", ("IY",)),
    ("by", ("B", "IY")),
    ("ley", ("L", "IY")),
    ("ly", ("L", "IY")),
    ("ham", ("AH", "M")),
    ("ton", ("T", "AH", "N")),
    ("gate", ("G", "EY", "T")),
    ("ford", ("F", "ER", "D")),
    ("more", ("M", "AO", "R")),
    ("wick", ("IH", "K")),
    ("ia", ("IY", "AH")),
)


def guessed_sounds(word: str, known: Known) -> tuple[Sounds, ...]:
    """Guess how a lower-case word may be spoken: at most `MOST_GUESSES` ways, the likeliest first.

    Letters that are not English are left out; a word without any that is gives nothing.

    Examples
    --------
    >>> dictionary = {"marrow": [("M", "EH", "R", "OW")]}
    >>> guessed_sounds("marrowby", lambda word: dictionary.get(word, []))[0]
    ('M', 'EH', 'R', 'OW', 'B', 'IY')
    >>> guessed_sounds("imke", lambda word: [])[:2]
    (('IH', 'M', 'K'), ('IH', 'M', 'K', 'AH'))
    """
    plain = "".join(letter for letter in word.lower() if "a" <= letter <= "z" or letter == "'")
    guesses = [*_from_parts(plain, known), *_by_rules(plain.replace("'", ""))]
    return tuple(dict.fromkeys(islice((one for one in guesses if one), 3 * MOST_GUESSES)))[
        :MOST_GUESSES
    ]


def unrhotic(sounds: Sounds) -> Sounds:
    """Leave out each R that no vowel follows, as most English speakers outside America do.

    Examples
    --------
    >>> unrhotic(("HH", "AA", "R", "B", "ER"))
    ('HH', 'AA', 'B', 'AH')
    """
    spoken: list[str] = []
    for sound, after in zip(sounds, (*sounds[1:], ""), strict=True):
        before_vowel = after[:1] in "AEIOU" if after else False
        if sound == "R" and not before_vowel and spoken:
            continue
        spoken.append("AH" if sound == "ER" and not before_vowel else sound)
    return tuple(spoken)


def _from_parts(word: str, known: Known) -> list[Sounds]:
    """Put a word together from one that is known and an ending, or from two that are known."""
    found: list[Sounds] = []
    for ending, sounds in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SHORTEST_PART:
            found += [(*head, *sounds) for head in known(word[: -len(ending)])[:2]]
    for cut in range(len(word) - _SHORTEST_PART, _SHORTEST_PART - 1, -1):
        heads, tails = known(word[:cut])[:1], known(word[cut:])[:1]
        found += [(*head, *tail) for head in heads for tail in tails]
    return found[:4]


def _by_rules(word: str) -> list[Sounds]:
    ways = [way.split("|") for way in _pieces(word)]
    # Nearest to the first ways first: each further choice costs one.
    chosen = islice(product(*[range(len(way)) for way in ways]), 4_096)
    ordered = sorted(chosen, key=sum)
    return [
        tuple(
            sound
            for way, choice in zip(ways, choices, strict=True)
            for sound in way[choice].split()
            if sound != "-"
        )
        for choices in ordered[: 2 * MOST_GUESSES]
    ]


def _pieces(word: str) -> list[str]:
    pieces: list[str] = []
    at = 0
    while at < len(word):
        letters, sounds = _rule_at(word, at)
        pieces.append(sounds)
        at += letters
    return pieces


def _rule_at(word: str, at: int) -> tuple[int, str]:
    """Give how many letters are taken from here, and the ways of saying them."""
    rest = word[at:]
    for letters, sounds in _RULES:
        plain = letters.strip("^$")
        if not rest.startswith(plain):
            continue
        if letters.startswith("^") and at:
            continue
        if letters.endswith("$") and (len(rest) != len(plain) or at == 0):
            continue
        return len(plain), sounds
    letter = word[at]
    after = word[at + 1 : at + 2]
    if letter == "c":
        return 1, "S" if after and after in "eiy" else "K"
    if letter == "g":
        return 1, "JH|G" if after and after in "eiy" else "G"
    if letter == "y" and after and after in _VOWELS:
        return 1, "Y"
    if letter in _VOWELS:
        # A vowel, one consonant and an "e": the vowel is long.
        magic = len(rest) >= 3 and rest[1] not in _VOWELS and rest[2] == "e"
        opens = len(rest) >= 3 and rest[1] not in _VOWELS and rest[2] in _VOWELS
        if magic:
            return 1, _both(_LONG[letter], _SHORT[letter])
        return 1, _both(_SHORT[letter], _LONG[letter]) if opens else _SHORT[letter]
    return 1, _LETTERS.get(letter, "-")


def _both(first: str, second: str) -> str:
    return "|".join(dict.fromkeys([*first.split("|"), *second.split("|")]))
