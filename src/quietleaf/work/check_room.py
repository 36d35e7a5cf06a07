"""Check the room: measure, keep its tone with the reading, and enter what was found."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from quietleaf.booth.edits import RoomChecked
from quietleaf.listening.room_check import RoomCheck, RoomSound, check_room
from quietleaf.storage.reading_places import READINGS, folder_of
from quietleaf.storage.room_files import FOLDER, keep_room_tone
from quietleaf.work.tools import Tools

PACE_WPM = (80.0, 260.0)
"""What lies outside was not this sentence, or not all of it. Ours."""
_PACE_SENTENCE_S_MIN = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRoom:
    """A room check to keep.

    Attributes
    ----------
    place : str
        ``readings:<id>`` or ``practice:<id>``.
    microphone : str
        Its name, as the browser has it.
    sentence_words : int
        How many words the sentence has that was read.
    """

    place: str
    reader: str
    microphone: str
    sentence_words: int
    sound: RoomSound


def check_room_of(request: CheckRoom, tools: Tools) -> RoomCheck:
    """Measure a room, keep its tone, and enter it in the reading's ledger.

    A reader of whom no pace is known gets a first one from the sentence.

    Raises
    ------
    NotFound
        If the reading is not there (any more).
    Conflict
        If its state does not allow entries.
    Invalid, AudioUnfit
        If the sound cannot be measured.
    """
    folder = folder_of(tools.data, request.place)
    check = check_room(request.sound)
    file, sha256 = "", ""
    if check.side is not None:
        channel = 1 if check.side.side == "right" else 0
        written = keep_room_tone(
            folder.path, request.sound.still[:, channel], request.sound.sample_rate_hz
        )
        file, sha256 = f"{FOLDER}/{written.path.name}", written.sha256
    folder.append(
        RoomChecked(file=file, sha256=sha256, facts=room_facts(check, request.microphone)),
        author=request.reader,
        at=tools.clock(),
    )
    _keep_first_pace(check, request, tools)
    return check


def pass_over_room(place: str, reader: str, as_before: str, tools: Tools) -> None:
    """Enter that the room was not checked.

    Parameters
    ----------
    as_before : str
        What the browser kept of the check before, that the reader goes by; empty where the check
        was passed over.

    Raises
    ------
    NotFound
        If the reading is not there (any more).
    """
    facts: dict[str, Any] = {"passed_over": True}
    if as_before:
        facts["as_before"] = as_before
    folder_of(tools.data, place).append(
        RoomChecked(file="", sha256="", facts=facts), author=reader, at=tools.clock()
    )


def room_facts(check: RoomCheck, microphone: str) -> dict[str, Any]:
    """Give a check as plain JSON values, levels to a tenth of a decibel."""
    found = {name: value for name, value in asdict(check).items() if name not in ("side", "advice")}
    side = check.side
    return {
        "microphone": microphone,
        "side": side and side.side,
        "other_side": side and side.other,
        **{name: _plain(value) for name, value in found.items()},
        "voice_to_noise_db": _plain(check.voice_to_noise_db),
        "leak_below_voice_db": _plain(check.leak_below_voice_db),
        "advice": list(check.advice),
        "overall": check.overall,
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return round(value, 2) if isinstance(value, float) else value


def _keep_first_pace(check: RoomCheck, request: CheckRoom, tools: Tools) -> None:
    is_practice = not request.place.startswith(f"{READINGS}:")
    if is_practice or check.voice_dbov is None or check.sentence_s < _PACE_SENTENCE_S_MIN:
        return
    words_per_min = 60.0 * request.sentence_words / check.sentence_s
    if not PACE_WPM[0] <= words_per_min <= PACE_WPM[1]:
        return
    if tools.database.pace(request.reader) is None:
        tools.database.keep_pace(request.reader, words_per_min, tools.clock())
