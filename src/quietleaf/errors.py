"""The error tree: what went wrong, in a sentence that says what to do.

::

    QuietleafError
      Refused         the person can put it right
        Invalid       the request does not hold together
        NotFound      nothing is there under that name
        NotAllowed    somebody else may do this
        Conflict      it was true before, and is no longer
      AudioUnfit      the sound cannot answer
      Unavailable     something did not answer; trying again may help
      Damaged         stored bytes are not those that were written

Each has a stable ``code`` for the manual (``bring-in/too-long``) and a sentence with what was
needed, what came, and the way out. Doors turn the class into a status or an exit code.
"""

from __future__ import annotations

import re

LONGEST_SENTENCE = 700
"""Letters. What came is told in it, and what comes may be of any length."""
_COMMANDS = re.compile("[\0-\x1f\x7f-\x9f\ud800-\udfff]")
"""To a terminal; and halves of characters, which no file takes."""


class QuietleafError(Exception):
    """A refusal or failure that a person can read.

    Parameters
    ----------
    code : str
        Stable, lower case, ``subject/reason``.
    sentence : str
        What was needed, what came, and the way out.
    """

    def __init__(self, code: str, sentence: str) -> None:
        sentence = _COMMANDS.sub("\N{REPLACEMENT CHARACTER}", sentence)
        if len(sentence) > LONGEST_SENTENCE:
            half = LONGEST_SENTENCE // 2
            sentence = f"{sentence[:half]} … {sentence[-half:]}"
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence

    def __reduce__(self) -> tuple[type[QuietleafError], tuple[str, str]]:
        # Errors travel from child processes: both arguments must come back.
        return type(self), (self.code, self.sentence)


class Refused(QuietleafError):
    """The person can put it right."""


class Invalid(Refused):
    """The request does not hold together."""


class NotFound(Refused):
    """Nothing is there under that name."""


class NotAllowed(Refused):
    """Somebody else may do this."""


class Conflict(Refused):
    """It was true before, and is no longer."""


class AudioUnfit(QuietleafError):
    """The sound cannot answer."""


class Unavailable(QuietleafError):
    """Something did not answer; trying again may help."""


class Damaged(QuietleafError):
    """Stored bytes are not those that were written."""
