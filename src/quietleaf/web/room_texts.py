"""Words of the room check: the page before its script runs, and what was found."""

from __future__ import annotations

from quietleaf.listening.room_check import AdviceCode, Overall, RoomCheck
from quietleaf.listening.room_limits import ROOM_LIMITS, RoomLimits

TITLE = "Room check"
GETTING_READY = "One moment."
NO_SCRIPT = (
    "This page hears with a script, and the browser does not run it. Switch scripts on for this "
    "address, or ask the desk."
)
PASS_OVER = "Go on without a room check"
ALLOW_TITLE = "Let this page hear"
ALLOW = (
    "The browser asks once whether this page may use the microphone. Press, then choose to allow "
    "it. Nothing of the room check is put into your programme."
)
ALLOW_PRESS = "Switch the microphone on"
TROUBLE_TITLE = "The microphone cannot be used yet"
TRY_AGAIN = "Try again"
CHOOSE_ANOTHER = "Choose another microphone"
READY_TITLE = "Before you read"
AS_BEFORE = "The same as last time: go on"
MICROPHONE = "Microphone"
WHICH_MICROPHONE = "Which microphone do you speak into?"
DISTANCE = (
    "Sit as you will sit while reading: 15 to 20 cm from the microphone, a little to the side of "
    "your breath."
)
HEADPHONES = "I wear headphones"
HEADPHONES_NOTE = (
    "Turn them low first: loud headphones harm hearing for good. A quiet rising tone is played "
    "once, to find out whether the microphone hears them."
)
WHAT_COMES = (
    "You read two sentences, keep still for five seconds, and read one more. It takes a minute."
)
BEGIN = "Begin the room check"
SENTENCE_TITLE = "Read this aloud, as you will read today"
HAVE_READ = "I have read it"
STILL_TITLE = "Now keep still"
STILL = "This is what your room sounds like. Hands off the paper; breathe quietly."
PLAYING_TITLE = "Stay still: a quiet tone"
PLAYING = "It is played once, in your headphones."
PLOSIVES_TITLE = "Read this aloud too"
MEASURING_TITLE = "One moment"
MEASURING = "The station looks at what was heard."
SENTENCE = (
    "The ferry to Ninegate sails at half past seven in the morning, on every day but Sunday. "
    "Those who carry a folding bicycle, a dog or a small boat pay nothing for it."
)
PLOSIVES = (
    "Peter Pope bought a proper brown paper bag of plump pears, and Bob Perkin put a big "
    "blue bottle of pepper beside the pump."
)
FOUND = "What was found"
MEASURES = "The figures"
MEASURES_NOTE = (
    "Levels are in decibels below the loudest that can be recorded. The echo is an estimate from "
    "your voice, right within a third or so."
)
AGAIN = "Do it again"

OVERALL: dict[Overall, str] = {
    "good": "All is well. You can read.",
    "usable": "You can read like this. Something would make it better.",
    "not yet": "Put this right before you read, if you can.",
}


def sentence_words() -> int:
    """Count the words of the sentence that is read."""
    return len(SENTENCE.split())


def overall_words(check: RoomCheck) -> str:
    """Say what the check came to."""
    return OVERALL[check.overall]


def advice_words(check: RoomCheck) -> list[str]:
    """Say what is to be done, the weightiest first."""
    return [_advice(code, check) for code in check.advice]


def measures(check: RoomCheck, limits: RoomLimits = ROOM_LIMITS) -> list[tuple[str, str, str]]:
    """Name each measure, in words, and as a figure; figures may be empty."""
    rows = [("Microphone", _side_words(check), f"{check.sample_rate_hz / 1000:g} kHz")]
    if check.voice_dbov is not None:
        rows.append(("Your voice", _voice_words(check), _decibels(check.voice_dbov)))
    if check.noise is not None and check.voice_to_noise_db is not None:
        rows.append(("The room", _room_words(check, limits), _decibels(check.noise.floor_dbov)))
    if check.voice_to_noise_db is not None:
        rows.append(
            (
                "Voice over the room",
                "enough" if check.voice_to_noise_db >= limits.voice_to_noise_db_min else "little",
                _decibels(check.voice_to_noise_db),
            )
        )
    if check.hum is not None:
        rows.append(("Hum", "of the mains", f"{check.hum.frequency_hz:.1f} Hz"))
    if check.echo is not None:
        rows.append(
            ("Echo", _echo_words(check.echo.decay_s, limits), f"about {check.echo.decay_s:.1f} s")
        )
    if check.voice_dbov is not None:
        rows.append(("Popped p and b", _count(check.pops.count), str(check.pops.count)))
    if check.leak_below_voice_db is not None:
        rows.append(
            (
                "The test tone",
                "heard by the microphone",
                f"{check.leak_below_voice_db:.0f} dB under your voice",
            )
        )
    return rows


def _advice(code: AdviceCode, check: RoomCheck) -> str:
    match code:
        case "no-input":
            return (
                "Nothing at all comes from this microphone. Look at its plug and its switch, or "
                "choose another one."
            )
        case "no-voice":
            return (
                "No voice stood out from the five still seconds. If it was not still then, do it "
                "again. Otherwise see that this is the microphone in front of you, switched on."
            )
        case "clipped":
            return (
                "Too loud: the tops of your voice are cut off. Turn the microphone down, or sit "
                "further back, and do it again."
            )
        case "narrow-band":
            end = (check.band_end_hz or 0) // 1000
            return (
                f"Your voice ends at {end} kHz, as over a telephone: s and f are lost. This is "
                "often a wireless headset; use one with a cable, or another microphone."
            )
        case "loudspeaker":
            return (
                "The microphone hears loudspeakers. Plug headphones in, or turn the loudspeakers "
                "off: they would be in your reading."
            )
        case "too-quiet":
            return (
                "Very quiet. Come closer, about 15 to 20 cm and a little to the side, or turn the "
                "microphone up."
            )
        case "too-loud":
            return "A little loud. Turn the microphone down, or sit back a little."
        case "not-still":
            return (
                "Something was heard while all should be still. If it comes again, find out what "
                "it is; else do the check again."
            )
        case "noise":
            return _noise_advice(check)
        case "hum":
            hertz = check.hum.frequency_hz if check.hum is not None else 0.0
            return (
                f"There is hum of the mains ({hertz:.1f} Hz). Move the microphone's cable away "
                "from power cables, or unplug chargers and lamps near by."
            )
        case "headphones-leak":
            return (
                "The microphone hears your headphones. Turn them lower, or put them on more firmly."
            )
        case "echo":
            return (
                "The room echoes. Come closer to the microphone, draw the curtains, or put "
                "something soft behind you and on the table."
            )
        case "pops":
            return (
                "Your breath strikes the microphone at p and b. Turn it a little, so that you "
                "speak past it."
            )


def _noise_advice(check: RoomCheck) -> str:
    kind = check.noise.kind if check.noise is not None else "fan"
    what = {
        "hum": "a hum. Unplug chargers and lamps near by, and move cables apart",
        "rumble": "a low rumble. Put something soft under the microphone; traffic and machines "
        "shake the table",
        "fan": "a broad noise, as of a fan, a machine or the street. Switch it off, or shut "
        "window and door",
        "hiss": "a hiss. Come closer and turn the microphone down; if it stays, it is the "
        "device's own",
    }[kind]
    return f"The room is loud: {what}."


def _side_words(check: RoomCheck) -> str:
    if check.side is None:
        return "gives nothing"
    side = check.side.side
    return {
        "none": "on its own channel",
        "same": "the same on both sides",
        "dead": f"on the {side} side; the other is empty, and is left out",
        "faint": f"on the {side} side; the other is almost empty, and is left out",
        "own": f"the {side} side is taken; the other has a sound of its own",
    }[check.side.other]


def _voice_words(check: RoomCheck) -> str:
    if check.clipped:
        return "cut off at its peaks"
    for code, words in (("too-quiet", "very quiet"), ("too-loud", "loud")):
        if code in check.advice:
            return words
    return "well"


def _room_words(check: RoomCheck, limits: RoomLimits) -> str:
    if check.noise is None:
        return ""
    distance_db = check.voice_to_noise_db
    if distance_db is None:
        return ""
    if distance_db >= limits.voice_to_noise_db_good:
        return "quiet"
    kind = {"hum": "hum", "rumble": "rumble", "fan": "a broad noise", "hiss": "hiss"}
    loud = "loud" if distance_db < limits.voice_to_noise_db_min else "not quite quiet"
    return f"{loud}: {kind[check.noise.kind]}"


def _echo_words(decay_s: float, limits: RoomLimits) -> str:
    if decay_s <= limits.echo_s_near:
        return "little: you sound near"
    return "some" if decay_s <= limits.echo_s_far else "much: you sound far away"


def _decibels(level_db: float) -> str:
    return f"{level_db:.0f} dB".replace("-", "\u2212")


def _count(count: int) -> str:
    return {0: "none", 1: "one"}.get(count, "several")
