"""Numbers and dates as they are spoken in English: each in every way that readers say it.

A way is a tuple of lower-case words. Only English: what another language says, nobody wrote here.
"""

from __future__ import annotations

Way = tuple[str, ...]

_TO_NINETEEN = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_ORDINALS = {
    "one": "first",
    "two": "second",
    "three": "third",
    "five": "fifth",
    "eight": "eighth",
    "nine": "ninth",
    "twelve": "twelfth",
}


def cardinal_ways(number: int) -> tuple[Way, ...]:
    """Say a number up to 999,999; the usual way first.

    Examples
    --------
    >>> [" ".join(way) for way in cardinal_ways(109)]
    ['one hundred and nine', 'one hundred nine', 'a hundred and nine', 'one oh nine']
    >>> cardinal_ways(42)
    (('forty', 'two'),)
    """
    if number < 20:
        return ((_TO_NINETEEN[number],),)
    if number < 100:
        tens = _TENS[number // 10 - 2]
        return ((tens, _TO_NINETEEN[number % 10]),) if number % 10 else ((tens,),)
    if number < 1_000:
        return _with_rest(number, 100, "hundred")
    return _with_rest(number, 1_000, "thousand")


def ordinal_ways(number: int) -> tuple[Way, ...]:
    """Say which one it is in a row.

    Examples
    --------
    >>> ordinal_ways(25), ordinal_ways(30)
    ((('twenty', 'fifth'),), (('thirtieth',),))
    """
    return tuple((*way[:-1], _ordinal(way[-1])) for way in cardinal_ways(number))


def year_ways(year: int) -> tuple[Way, ...]:
    """Say a year: as two pairs of digits, and as a number.

    Examples
    --------
    >>> [" ".join(way) for way in year_ways(2026)]
    ['twenty twenty six', 'two thousand and twenty six', 'two thousand twenty six']
    >>> [" ".join(way) for way in year_ways(1905)][:2]
    ['nineteen oh five', 'nineteen hundred and five']
    """
    century, rest = divmod(year, 100)
    ways: list[Way] = []
    if century % 10 or rest >= 10:
        head = cardinal_ways(century)[0]
        if rest == 0:
            ways.append((*head, "hundred"))
        elif rest < 10:
            ways += [(*head, "oh", *cardinal_ways(rest)[0])]
            ways += [(*head, "hundred", "and", *cardinal_ways(rest)[0])]
        else:
            ways.append((*head, *cardinal_ways(rest)[0]))
    if year % 1_000 < 100:
        ways += [way for way in cardinal_ways(year) if "oh" not in way]
    return tuple(dict.fromkeys(ways))


def _with_rest(number: int, unit: int, name: str) -> tuple[Way, ...]:
    count, rest = divmod(number, unit)
    heads = [(*way, name) for way in cardinal_ways(count)]
    if rest == 0:
        return (*heads, ("a", name)) if count == 1 else tuple(heads)
    tails = cardinal_ways(rest)
    ways = [(*head, "and", *tail) for head in heads for tail in tails]
    ways += [(*head, *tail) for head in heads for tail in tails]
    if count == 1:
        ways += [("a", name, "and", *tail) for tail in tails]
    if unit == 100:
        # "One oh nine", "two forty": how numbers of issues are often said.
        digits = ("oh",) if rest < 10 else ()
        ways += [(*way, *digits, *tail) for way in cardinal_ways(count) for tail in tails]
    return tuple(dict.fromkeys(ways))


def _ordinal(word: str) -> str:
    if word in _ORDINALS:
        return _ORDINALS[word]
    return f"{word[:-1]}ieth" if word.endswith("y") else f"{word}th"
