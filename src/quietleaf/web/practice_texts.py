"""The words of practice: a first visit, and trying it with one's own voice."""

from __future__ import annotations

from quietleaf.delivery.report_words import KEPT, counted, length, number
from quietleaf.work.hearings import SeenHearing
from quietleaf.work.kept_hearing import HeardReading
from quietleaf.work.practice_feedback import Feedback

TITLE = "Try it here"
LEAD = (
    "Nobody hears what you record here but you. It is never aired, and it is deleted when you "
    "leave."
)
PRACTICE_TITLE = "A first visit: a practice reading"
PRACTICE = (
    "You are led through a reading of a minute or two, as it is every week: the opening words, a "
    "short piece of news with a page to turn, the closing words. Afterwards you can hear yourself."
)
PRACTICE_DO = "Begin the practice reading"
TRY_OUT_TITLE = "Try it with your own voice"
TRY_OUT = "Read or say whatever you like, for as long as you like, and hear how it comes across."
TRY_OUT_DO = "Try it with your own voice"
NEEDED = "You need a microphone and, best of all, headphones. Nothing has to be installed."

FEEDBACK_TITLE = {
    "practice": "That was your practice reading",
    "try-out": "That was you",
}
NOTHING = "Nothing has been recorded yet."
NOTHING_DO = "Go and record something"
ARRIVING = "The last of it is still on its way to the station."
LOOK_AGAIN = "Look again"
HEARD_TITLE = "How you were heard"
LISTENING = "The station is listening to it now."
PROGRESS = "How much has been heard"
HOLDS_TITLE = "What you did"
HEAR_TITLE = "Hear yourself"
PLAYER = "Your practice reading"
THANKS = "Thank you for coming. When you are ready for a real one, tell the desk."
LEAVE = "Delete it and leave"
MORE = "Record some more"

GONE_TITLE = "It is deleted"
GONE = "Your recording is gone from the station, with everything that belonged to it."
GONE_THANKS = "Thank you for trying it."
GONE_AGAIN = "Try it once more"
GONE_BOOTH = "To the names of this booth"

_LOUD_DBOV, _QUIET_DBOV = -13.0, -40.0
"""As the stand says while one reads."""
_WELL = "You were heard well: a clear voice in a quiet room."


def length_words(feedback: Feedback) -> str:
    """Say how long it is."""
    return f"You read for {length(feedback.length_s)}."


def deeds(feedback: Feedback) -> tuple[str, ...]:
    """Say what was done at the stand, a sentence each."""
    if not feedback.holds:
        held = "You read it in one go, without holding."
        if feedback.kind == "practice":
            held += (
                " With a real paper, hold before you turn the page and roll again after it: then "
                "nobody hears the page."
            )
    else:
        times = {1: "once", 2: "twice"}.get(feedback.holds, f"{feedback.holds} times")
        held = f"You held {times} and went on. Nothing of what lies between is kept."
    if feedback.kind == "try-out":
        return (held,)
    missing = [
        name
        for name, marked in (
            ("opening", feedback.opening_marked),
            ("closing", feedback.closing_marked),
        )
        if not marked
    ]
    if not missing:
        return (held, "You marked where the opening and the closing words begin.")
    return (
        held,
        f"The {' and the '.join(missing)} words were not marked; the key for it stands on the "
        "page. In a real reading it helps the stand to reckon your time.",
    )


def hearing_words(hearing: SeenHearing) -> str:
    """Say in a sentence how far listening has got, or what came of it."""
    if hearing.heard is not None:
        return heard_words(hearing.heard)
    if hearing.trouble:
        return f"The station could not listen to it just now. {hearing.trouble}"
    return LISTENING


def heard_words(heard: HeardReading) -> str:
    """Say how a voice came across."""
    if heard.verdict == "ready" and not advice(heard):
        return _WELL
    if heard.active_speech_dbov is None:
        return "No voice was heard."
    return "You were heard. This would make it better:"


def advice(heard: HeardReading) -> tuple[str, ...]:
    """Say what would make it better, a sentence each; nothing where all is well.

    Examples
    --------
    >>> advice(HeardReading(duration_s=60.0, verdict="ready", reasons=("Nothing was found.",),
    ...     things_to_hear=0, cut_off=0, active_speech_dbov=-43.2, noise_floor_dbov=-70.0))
    ('Your voice was quiet (−43\xa0dB). Come closer: about 15 to 20 cm, a little to the side.',)
    """
    told: list[str] = []
    level = heard.active_speech_dbov
    if level is not None and level < _QUIET_DBOV:
        told.append(
            f"Your voice was quiet ({_db(level)}). Come closer: about 15 to 20 cm, a little to "
            "the side."
        )
    if (level is not None and level > _LOUD_DBOV) or heard.cut_off:
        places = f" in {counted(heard.cut_off, 'place', 'places')}" if heard.cut_off else ""
        told.append(
            f"Your voice was too loud for the microphone{places}. Go back a little, or have it "
            "turned down."
        )
    if heard.verdict != "ready":
        told.extend(heard.reasons)
    return tuple(told)


def _db(level: float) -> str:
    return f"{number(level, 0)}{KEPT}dB"
