"""What the pages say about the opening and closing words that were listened for."""

from __future__ import annotations

from quietleaf.listening.words_check import PartCheck, WordsFinding

STATES = {
    "read": "Read as written.",
    "differs": "Something else was heard than is written.",
    "not read": "These words were not heard.",
}
NOT_CHECKED = "Not checked."
NEVER_CHECKED = "Not checked: finishing the reading listens for them."
KINDS = {
    "word": "words",
    "name": "name",
    "number": "number",
    "weekday": "weekday",
    "day": "day",
    "month": "month",
    "year": "year",
}


def state_sentence(part: PartCheck) -> str:
    """Say what came of listening for some words.

    Examples
    --------
    >>> state_sentence(PartCheck(state="read", start_s=0.5, end_s=14.0))
    'Read as written.'
    >>> state_sentence(PartCheck(state="not checked", why_not="Nobody listened."))
    'Not checked. Nobody listened.'
    """
    if part.state == "not checked":
        return f"{NOT_CHECKED} {part.why_not}"
    return STATES[part.state]


def finding_sentence(finding: WordsFinding) -> str:
    """Say what was heard in the place of what is written.

    Examples
    --------
    >>> wrong = WordsFinding(kind="weekday", start_s=6.0, end_s=6.5, severity="hear",
    ...                      expected="Wednesday", heard="Tuesday")
    >>> finding_sentence(wrong)
    'Heard “Tuesday”; expected “Wednesday”.'
    """
    expected = f"“{finding.expected}”"
    if finding.heard:
        return f"Heard “{finding.heard}”; expected {expected}."
    if finding.kind == "name":
        return f"Expected {expected}; another name may have been said."
    return f"Expected {expected}, which was not heard."
