"""The words of handing in and of the receipt."""

from __future__ import annotations

from datetime import datetime

from quietleaf.delivery.report_words import counted, fit_sentence, length, moment_words
from quietleaf.planning.words import names_in_words, written_date
from quietleaf.storage.zones import zone_named
from quietleaf.work.checked_takes import CheckedTake
from quietleaf.work.hearings import SeenHearing
from quietleaf.work.kept_hearing import HeardReading
from quietleaf.work.receipt import Receipt
from quietleaf.work.see_hand_in import CopySeen, SeenHandIn

TITLE = "Hand in"
CLOSING_NOT_MARKED = "The closing words were not marked. Have you read them?"
CLOSING_NOT_MARKED_MORE = (
    "If not, go back and read them: everything waits for you there. If you have, all is well."
)
CLOSING_MARKED = "You have read the closing words."
CLOSING_WORDS = "Closing words"
BACK = "Back to reading"
PLACE_LEGEND = "Where did you leave off?"
PLACE_HINT = "For whoever reads on. Leave it empty where nothing goes on."
PLACE_PAGE = "Page"
PLACE_HEADLINE = "Headline, or the last words you read"
RECAP = "For the next reader: what happened in this part?"
RECAP_HINT = "A sentence or two, as they will be read out before the next part."
REMARK = "Anything the desk should know?"
REMARK_HINT = "Names you were not sure of, a noise, a page that was missing. It may stay empty."
TIDY_LEGEND = "Before you go"
COPY = "The station’s copy"
COPY_NO_SCRIPT = "See how far it is now"
HAND_IN = "Hand it in"
ALL_THE_SAME = "Hand it in all the same"
TOO_SHORT = "Is it meant to be this short? If not, go back and read on: everything waits there."
TOO_LONG = (
    "It is longer than its time on air. You can hand it in all the same: the desk will see that "
    "it is too long."
)
CLOSE_AS_IS = "Hand in what the station has"
CLOSE_AS_IS_HINT = (
    "Only if the computer that had the rest will not come back: what it still keeps is then heard "
    "by the desk by itself."
)
NOT_YET = "Not yet"
LOOK_AGAIN = "Something is to be shortened first"
THINKING = "Everything is being read back from the station’s disk. This takes a few seconds."

THANKS = "Thank you"
RECEIPT = "Receipt"
SAFE = "Your reading is safe on the station’s disk."
SAFE_AGAIN = "It is handed in again, and what you read again is safe on the station’s disk."
NOT_SAFE = (
    "Not everything on the station’s disk is as it was recorded. Please tell the desk before you "
    "go."
)
LENGTH = "Length"
TAKES = "Takes"
CHECKSUMS = "Each take, with the checksum of its samples (SHA-256)"
NEXT = "What happens now"
NEXT_AIRED = "The desk hears it through and puts it on air."
NEXT_REQUEST = "The desk hears it through and sends it to whoever asked for it."
NEXT_AGAIN = "The desk hears what you read again; the rest it has heard."
NEXT_AIRED_UNHEARD = "The desk puts it on air."
NEXT_REQUEST_UNHEARD = "The desk sends it to whoever asked for it."
NEXT_SEE = "What became of it is on your page the next time you come in."
WHOLE = "whole"
VERDICT = "How it was heard"
LISTENING = "The station is listening to it now."
LISTENING_HINT = "You need not wait. You can read this again later."
LOOK_NOW = "See how far it is"
PROGRESS = "How much has been heard"
LEFT = "What you left"
LEFT_PLACE = "Place left off"
LEFT_RECAP = "For the next reader"
LEFT_REMARK = "To the desk"
LEFT_TIDIED = "Tidied"
PRINT = "Print this"
LEAVE = "Done, leave the stand"

_VERDICTS = {
    "ready": "It was heard well: nothing was found that asks for another ear.",
    "read again": "It did not come across well, and may have to be read again.",
}


def receipt_title(reader: str) -> str:
    """Thank the reader by name."""
    return f"{THANKS}, {reader}."


def safe_words(receipt: Receipt) -> str:
    """Say whether everything is on the station's disk as it was recorded."""
    if not receipt.checked.whole:
        return NOT_SAFE
    return SAFE_AGAIN if receipt.read_again else SAFE


def issue_words(seen: SeenHandIn | Receipt) -> str:
    """Name the issue, or the part of a serial."""
    if seen.part is not None:
        return f"part {seen.part}"
    return f"issue of {written_date(seen.issue_date)}"


def receipt_facts(receipt: Receipt, zone: str) -> str:
    """Say what was handed in, by whom, and when."""
    return (
        f"{receipt.publication}, {issue_words(receipt)}, read by "
        f"{names_in_words(receipt.readers)}. Handed in on {moment_in(receipt.handed_in_at, zone)}."
    )


def moment_in(at: datetime, zone: str) -> str:
    """Write a moment as the station's clock has it."""
    return moment_words(at.astimezone(zone_named(zone)))


def length_words(seen: SeenHandIn | Receipt) -> str:
    """Say how long it is, against its window."""
    return fit_sentence(seen.length_s, seen.window)


def length_question(seen: SeenHandIn) -> str:
    """Ask about a length that is outside its window; empty where it fits."""
    if seen.window is None or not seen.length_s:
        return ""
    if seen.length_s < seen.window.shortest_s:
        return TOO_SHORT
    return TOO_LONG if seen.length_s > seen.window.longest_s else ""


def next_words(receipt: Receipt) -> str:
    """Say what becomes of a reading that was handed in."""
    if receipt.read_again:
        return f"{NEXT_AGAIN} {NEXT_SEE}"
    unheard = receipt.review == "none"
    if receipt.air_date is None:
        return f"{NEXT_REQUEST_UNHEARD if unheard else NEXT_REQUEST} {NEXT_SEE}"
    return f"{NEXT_AIRED_UNHEARD if unheard else NEXT_AIRED} {NEXT_SEE}"


def missing_words(missing_s: float) -> str:
    """Say how much was never captured."""
    return (
        f"About {length(max(1.0, missing_s))} were spoken and not recorded, because the computer "
        "stopped for a moment. The places are marked, and the desk will listen there."
    )


def takes_words(receipt: Receipt, zone: str) -> str:
    """Say what reading the takes back from the disk gave."""
    takes = receipt.checked.takes
    at = moment_in(receipt.checked.at, zone)
    if not receipt.checked.whole:
        return f"Read back from the disk on {at}."
    if len(takes) == 1:
        return (
            f"One take, complete. It was read back from the disk on {at} and is, to the last "
            "sample, what was recorded."
        )
    return (
        f"{_begun(counted(len(takes), 'take', 'takes'))}, each complete. They were read back from "
        f"the disk on {at} and are, to the last sample, what was recorded."
    )


def take_line(take: CheckedTake) -> str:
    """Name a take and its length."""
    return f"Take {take.take}, {length(take.length_s)}"


def spaced(checksum: str) -> str:
    """Write a checksum in groups of eight, so that two can be compared."""
    return " ".join(checksum[at : at + 8] for at in range(0, len(checksum), 8))


def copy_words(copy: CopySeen) -> str:
    """Say how far the station's copy is, as far as the station can tell."""
    if not copy.takes and not copy.open_takes:
        return "Nothing has arrived at the station yet."
    held = length(copy.held_s)
    if not copy.open_takes:
        takes = counted(copy.takes, "take, complete", "takes, all complete")
        return f"The station has {held}, in {takes}."
    return (
        f"The station has {held}. Take {copy.open_takes[0].take} has not come to its end there yet."
    )


def hearing_words(hearing: SeenHearing) -> str:
    """Say in a sentence how far listening has got, or what came of it."""
    if hearing.heard is not None:
        return verdict_words(hearing.heard)
    if hearing.trouble:
        return f"The station could not listen to it just now. {hearing.trouble}"
    return LISTENING


def verdict_words(heard: HeardReading) -> str:
    """Say a verdict to the reader."""
    if heard.verdict == "ready" and heard.things_to_hear:
        return "It was heard through, and can go out."
    if heard.verdict == "needs an ear" and heard.review == "whole":
        return "It was heard through. The desk will listen to all of it before it goes out."
    if heard.verdict in _VERDICTS:
        return _VERDICTS[heard.verdict]
    if heard.things_to_hear:
        things = counted(heard.things_to_hear, "place", "places")
        return f"It was heard through. The desk will listen to {things} in it."
    return "It was heard through. Somebody at the desk will listen to it too."


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]
