"""The sentences of a report: verdict, length, numbers, findings, what the picture shows."""

from __future__ import annotations

from datetime import datetime

from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.hearing import Verdict
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.planning.words import written_date
from quietleaf.units import Window, clock

KEPT = "\N{NO-BREAK SPACE}"
LEAD_IN_S = 3.0
"""A thing to hear is played from this long before it."""
AFTER_S = 2.0

FINDING_WORDS: dict[FindingKind, str] = {
    "clip": "Too loud for the recording",
    "dropout": "Missing or played twice",
    "dead-air": "Long silence",
    "hum": "Hum",
    "noise": "Noise",
    "breath": "Loud breath",
    "rustle": "Paper",
    "click": "Click",
    "pop": "Pop",
    "cough": "Cough",
    "level-step": "Jump in the sound",
    "restart": "Read twice",
    "echo": "Echo",
}
SEVERITY_WORDS: dict[Severity, str] = {
    "fix": "A change is proposed.",
    "hear": "Somebody should listen.",
    "note": "For the record.",
}

_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


def counted(count: int, one: str, more: str) -> str:
    """Write a count with its noun, in letters up to twelve.

    Examples
    --------
    >>> counted(1, "thing", "things"), counted(13, "thing", "things")
    ('one thing', '13 things')
    """
    number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{number} {one if count == 1 else more}"


def length(time_s: float) -> str:
    """Write a length as minutes and seconds, rounded down.

    Examples
    --------
    >>> length(3391.9).replace(KEPT, " "), length(9.4).replace(KEPT, " ")
    ('56 min 31', '9 seconds')
    """
    minutes, seconds = divmod(int(time_s), 60)
    if not minutes:
        return f"{seconds}{KEPT}{'second' if seconds == 1 else 'seconds'}"
    return f"{minutes}{KEPT}min{KEPT}{seconds:02d}"


def verdict_sentence(verdict: Verdict, to_hear: int, review: ReviewDepth = USUAL_REVIEW) -> str:
    """Say what is to be done with the programme.

    Examples
    --------
    >>> verdict_sentence("needs an ear", 3), verdict_sentence("ready", 0)
    ('Three things to hear before it is cleared.', 'Ready for the air.')
    >>> verdict_sentence("needs an ear", 3, "whole"), verdict_sentence("needs an ear", 3, "none")
    ('To be heard whole before it is cleared.', 'This cannot go out as it is.')
    """
    if verdict == "read again":
        return "This should be read again."
    if verdict == "ready":
        return "Ready for the air."
    if review == "whole":
        return "To be heard whole before it is cleared."
    if review == "none":
        return "This cannot go out as it is."
    if not to_hear:
        return "Somebody should listen before it is cleared."
    return begun(f"{counted(to_hear, 'thing', 'things')} to hear before it is cleared.")


def fit_sentence(duration_s: float, window: Window | None) -> str:
    """Say how long the programme is, and whether that suits its window.

    Examples
    --------
    >>> fifty_six_to_eight = Window(shortest_s=3360.0, longest_s=3480.0)
    >>> fit_sentence(3391.9, fifty_six_to_eight).replace(KEPT, " ")
    '56 min 31 long, which fits its window of 56:00 to 58:00.'
    >>> fit_sentence(3661.0, fifty_six_to_eight).replace(KEPT, " ")
    '61 min 01 long: 3 min 01 too long for its window of 56:00 to 58:00.'
    >>> fit_sentence(95.0, None).replace(KEPT, " ")
    '1 min 35 long. Any length will do.'
    >>> fit_sentence(3480.0, Window(shortest_s=3480.0, longest_s=3480.0)).replace(KEPT, " ")
    '58 min 00 long, exactly as asked.'
    """
    told = f"{length(duration_s)} long"
    if window is None:
        return f"{told}. Any length will do."
    over_s, under_s = duration_s - window.longest_s, window.shortest_s - duration_s
    exact = window.shortest_s == window.longest_s
    if over_s <= 0.0 and under_s <= 0.0:
        return (
            f"{told}, exactly as asked." if exact else f"{told}, which fits its window of {window}."
        )
    # A part of a second is told as one: "0 seconds too long" helps nobody.
    miss = f"{length(max(1.0, over_s, under_s))} too {'long' if over_s > 0.0 else 'short'}"
    if exact:
        return f"{told}: {miss} for the {clock(window.longest_s)} that was asked for."
    return f"{told}: {miss} for its window of {window}."


def number(value: float | None, decimals: int = 1) -> str:
    """Write a measured value with a true minus sign; empty where there is none.

    Examples
    --------
    >>> number(-23.04), number(-0.04), number(None)
    ('−23.0', '0.0', '')
    """
    if value is None:
        return ""
    text = f"{value:.{decimals}f}"
    # What rounds to nothing has no sign.
    return text.lstrip("-") if float(text) == 0.0 else signed(text)


def signed(text: str) -> str:
    """Set true minus signs before the numbers of a text.

    Examples
    --------
    >>> signed("at most -1.0, well-read, 56-58")
    'at most −1.0, well-read, 56-58'
    """
    return "".join(
        "−"
        if letter == "-"
        and text[place + 1 : place + 2].isdigit()
        and not text[place - 1 : place].isalnum()
        else letter
        for place, letter in enumerate(text)
    )


def place_words(finding: Finding) -> str:
    """Say where a finding is.

    Examples
    --------
    >>> clip = Finding(kind="clip", start_s=192.2, end_s=192.4, severity="hear", value=None,
    ...                limit=None, unit="", advice="")
    >>> place_words(clip)
    'at 3:12'
    """
    start, end = clock(finding.start_s), clock(finding.end_s)
    return f"at {start}" if start == end else f"at {start} to {end}"


def measured_words(finding: Finding) -> str:
    """Say what was measured of a finding, and what it was held against; empty if nothing was.

    Examples
    --------
    >>> pause = Finding(kind="dead-air", start_s=60.0, end_s=66.5, severity="hear", value=6.5,
    ...                 limit=5.0, unit="s", advice="")
    >>> measured_words(pause).replace(KEPT, " ")
    'Measured 6.5 s; the limit is 5.0 s.'
    >>> restart = Finding(kind="restart", start_s=60.0, end_s=66.5, severity="fix", value=0.95,
    ...                   limit=0.93, unit="likelihood", advice="")
    >>> measured_words(restart).replace(KEPT, " ")
    '95 % likely.'
    """
    if finding.value is None:
        return ""
    if finding.unit == "likelihood":
        likely, unit = as_said(finding.value, finding.unit)
        return f"{likely:.0f}{KEPT}{unit}."
    told = f"Measured {_amount(finding.value, finding.unit)}"
    return told + (
        "." if finding.limit is None else f"; the limit is {_amount(finding.limit, finding.unit)}."
    )


def as_said(value: float, unit: str) -> tuple[float, str]:
    """Give a measured value and its unit as people say them.

    Examples
    --------
    >>> as_said(0.93, "likelihood"), as_said(-15.7, "dB over the voice"), as_said(6.5, "s")
    ((93.0, '% likely'), (15.7, 'dB under the voice'), (6.5, 's'))
    """
    if unit == "likelihood":
        return 100.0 * value, "% likely"
    if value < 0.0 and unit.startswith("dB over "):
        return -value, unit.replace("over", "under", 1)
    return value, unit


def hear_range_s(finding: Finding, duration_s: float) -> tuple[float, float]:
    """Give what to play of a finding: from a little before it to a little after."""
    return (
        max(0.0, finding.start_s - LEAD_IN_S),
        min(duration_s, finding.end_s + AFTER_S),
    )


def things_sentence(findings: tuple[Finding, ...], duration_s: float) -> str:
    """Say how many things there are to hear, and how long that takes.

    Each is heard with a little before and after it; what lies in two of them counts once.

    Examples
    --------
    >>> clip = Finding(kind="clip", start_s=192.0, end_s=194.0, severity="hear", value=None,
    ...                limit=None, unit="", advice="")
    >>> things_sentence((clip, clip), 3400.0).replace(KEPT, " ")
    'Two things to hear, 7 seconds in all.'
    """
    if not findings:
        return "Nothing was found that needs an ear."
    all_s = heard_s = 0.0
    for start_s, stop_s in sorted(hear_range_s(finding, duration_s) for finding in findings):
        all_s += max(0.0, stop_s - max(start_s, heard_s))
        heard_s = max(heard_s, stop_s)
    things = counted(len(findings), "thing to hear", "things to hear")
    return f"{begun(things)}, {length(max(1.0, all_s))} in all."


def notes_sentence(count: int) -> str:
    """Say how many notes there are.

    Examples
    --------
    >>> notes_sentence(1)
    'One note for the record'
    """
    return begun(f"{counted(count, 'note', 'notes')} for the record")


def repairs_shown(repairs: int, shown: int) -> str:
    """Say that not all repairs are shown.

    Examples
    --------
    >>> repairs_shown(61, 24)
    'Of 61 repairs 24 are shown, the first of each kind.'
    """
    return f"Of {repairs} repairs {shown} are shown, the first of each kind."


def size_words(count: int) -> str:
    """Write the size of a file.

    Examples
    --------
    >>> [size_words(count).replace(KEPT, " ") for count in (501_000_000, 2_040_000, 912)]
    ['501 MB', '2.0 MB', '1 kB']
    """
    if count >= 10_000_000:
        return f"{count / 1e6:.0f}{KEPT}MB"
    if count >= 1_000_000:
        return f"{count / 1e6:.1f}{KEPT}MB"
    return f"{max(1, round(count / 1e3))}{KEPT}kB"


def moment_words(at: datetime) -> str:
    """Write a moment in its own zone.

    Examples
    --------
    >>> moment_words(datetime.fromisoformat("2026-11-25T10:31:00+00:00"))
    'Wednesday 25 November 2026, 10:31 (UTC)'
    """
    zone = at.tzname()
    return f"{written_date(at.date())}, {at:%H:%M}" + (f" ({zone})" if zone else "")


def _amount(value: float, unit: str) -> str:
    value, unit = as_said(value, unit)
    return f"{number(value)}{KEPT}{unit}" if unit else number(value)


def begun(words: str) -> str:
    """Begin a sentence with a capital letter."""
    return words[:1].upper() + words[1:]
