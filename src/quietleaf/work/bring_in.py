"""Bring a recording in: a file becomes the take of a new reading."""

from __future__ import annotations

import uuid
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.edits import StateSet
from quietleaf.booth.reading import ReadingFacts
from quietleaf.errors import AudioUnfit, Invalid, NotFound
from quietleaf.listening import channel_levels
from quietleaf.listening.channel_levels import FRAMES_PER_S
from quietleaf.listening.channels import ChannelChoice, result
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station
from quietleaf.storage.codecs import SoundFile, open_sound
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import FULL_SCALE, pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, new_reading, reading_paths
from quietleaf.storage.sound_source import SoundInfo
from quietleaf.units import clock, db_of_ratio
from quietleaf.work.tools import Tools

LONGEST_S = 36_000.0
_BLOCK_SAMPLES = 1 << 18
"""Of all channels together, so that a block is 2 MB whatever comes."""
_LARGEST = (FULL_SCALE - 1) / FULL_SCALE
_STRAY_DB = 60.0
"""A voice turned down by this much still has 84 dB of 24 bits below it; beyond, it would suffer."""
_LOUD_PERCENTILE = 95.0
_ID_LETTERS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class BringIn:
    """What is asked for.

    Attributes
    ----------
    programme_key : str
        As the station has it.
    reader : str
        A reader of the station, as the name is spoken; capitals do not matter.
    longest_s : float
        Recordings of this length or more are refused.
    """

    path: Path
    programme_key: str
    issue_date: date
    reader: str
    longest_s: float = LONGEST_S


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtIn:
    """What became of it.

    Attributes
    ----------
    info : SoundInfo
        The recording as it came.
    channels : str
        A sentence: how one channel was made.
    remarks : tuple of str
        Sentences about everything else that the person should know.
    """

    reading_id: str
    folder: Path
    facts: ReadingFacts
    info: SoundInfo
    duration_s: float
    channels: str
    remarks: tuple[str, ...]


def bring_in(request: BringIn, tools: Tools) -> BroughtIn:
    """Make a new reading of a recording, whole or not at all.

    The take keeps the recording's own sampling rate, as 24-bit PCM of one channel. Samples of 24
    bits and fewer are kept to the bit where one channel is taken.

    Raises
    ------
    NotFound
        If there is no such file, programme or reader.
    Invalid
        If the file is no recording, or too long.
    AudioUnfit
        If the sound is damaged, silent, not numbers, or only a person can choose its channel.
    """
    station = tools.database.load_station()
    programme = _programme(request.programme_key, station)
    reader = _reader(request.reader, station)
    with open_sound(request.path) as sound:
        info = sound.info
        _refuse_long(info, request)
        choice = _choose(sound, tools)
        gain, remarks = _gain(sound, choice)
        facts = _facts(programme, request.issue_date, reader, station, tools.data)
        remarks = sound.remarks + remarks + _planned(facts, reader, station)
        try:
            folder, more = _store(sound, choice, gain, facts, reader, request.path.name, tools)
        except BaseException:
            _clear_programme(tools.data, facts)
            raise
    tools.database.index_reading(reading_row(folder))
    return BroughtIn(
        reading_id=facts.reading_id,
        folder=folder.path,
        facts=facts,
        info=info,
        duration_s=info.duration_s,
        channels=choice.sentence,
        remarks=remarks + more,
    )


def read_issue_date(text: str, programme_key: str, station: Station) -> date:
    """Read the date of an issue as it is typed.

    Raises
    ------
    Invalid
        If it is no date; the sentence names the issues that are planned.
    """
    with suppress(ValueError):
        found = date.fromisoformat(text)
        # Weeks and dates without hyphens are dates too, but nobody means them here.
        if found.isoformat() == text:
            return found
    planned = sorted(
        {
            assignment.issue_date.isoformat()
            for assignment in station.assignments
            if assignment.programme_key == programme_key
        }
    )
    raise Invalid(
        "bring-in/date",
        f"The date of an issue is written as year, month and day, like 2026-11-25; {text!r} came. "
        + (f"Planned for {programme_key}: {', '.join(planned)}." if planned else "Write it so."),
    )


def _programme(key: str, station: Station) -> Programme:
    for programme in station.programmes:
        if programme.key == key:
            return programme
    raise NotFound(
        "bring-in/programme",
        f"There is no programme {key!r} at {station.name}. "
        f"There is: {', '.join(sorted(programme.key for programme in station.programmes))}.",
    )


def _reader(name: str, station: Station) -> str:
    asked = " ".join(name.split()).casefold()
    for reader in station.readers:
        if reader.casefold() == asked:
            return reader
    raise NotFound(
        "bring-in/reader",
        f"There is no reader {name!r} at {station.name}. "
        f"There is: {', '.join(sorted(station.readers))}.",
    )


def _refuse_long(info: SoundInfo, request: BringIn) -> None:
    if info.duration_s >= request.longest_s:
        raise Invalid(
            "bring-in/too-long",
            f"A recording is brought in if it is shorter than {clock(request.longest_s)}; "
            f"{request.path.name} has {clock(info.duration_s)}. Cut it into parts, or raise the "
            "setting longest_recording_s.",
        )


def _choose(sound: SoundFile, tools: Tools) -> ChannelChoice:
    """Hear the whole recording once: every sample is read before anything is made."""
    info = sound.info
    state = channel_levels.start(info.sample_rate_hz, info.channels)
    heard = 0
    for block in sound.blocks(_block_frames(info)):
        state = channel_levels.step(state, block)
        heard += len(block)
        tools.progress("listening to the channels", heard / info.frames)
    return result(state)


def _gain(sound: SoundFile, choice: ChannelChoice) -> tuple[float, tuple[str, ...]]:
    """Find by how much the recording must be turned down so that nothing is past full scale."""
    if choice.peak * FULL_SCALE < 0.5:
        raise AudioUnfit(
            "bring-in/too-quiet",
            "A recording needs sound in it; the loudest sample of this one is smaller than the "
            "smallest step of 24 bits. Turn it up in the program that made it and export it again.",
        )
    if choice.peak <= 1.0:
        return 1.0, ()
    _refuse_stray(sound, choice)
    over_db = db_of_ratio(choice.peak / _LARGEST)
    by = f"{over_db:.1f}" if over_db >= 0.05 else "less than 0.1"
    return _LARGEST / choice.peak, (
        f"It goes {by} dB over full scale. All of it was turned down by that much, so "
        "that nothing is clipped and nothing lost.",
    )


def _refuse_stray(sound: SoundFile, choice: ChannelChoice) -> None:
    """Refuse a single mad sample, which would press all the rest down to nothing."""
    info = sound.info
    frame = max(1, info.sample_rate_hz // FRAMES_PER_S)
    frames_a_block = max(1, _block_frames(info) // frame)
    powers: list[NDArray[np.float64]] = []
    peak, peak_at, at = 0.0, 0, 0
    for block in sound.blocks(frames_a_block * frame):
        mono = choice.mono(block)
        largest = int(np.argmax(np.abs(mono)))
        if abs(mono[largest]) > peak:
            peak, peak_at = float(abs(mono[largest])), at + largest
        starts = np.arange(0, len(mono), frame)
        counts = np.diff(np.append(starts, len(mono)))
        powers.append(np.add.reduceat(mono**2, starts) / counts)
        at += len(mono)
    loud = float(np.sqrt(np.percentile(np.concatenate(powers), _LOUD_PERCENTILE)))
    if peak > loud * 10.0 ** (_STRAY_DB / 20.0):
        raise AudioUnfit(
            "bring-in/stray",
            "A recording's loudest sample is near its voice; at "
            f"{clock(peak_at / info.sample_rate_hz)} this one has a sample {db_of_ratio(peak):.0f} "
            "dB over full scale, beside which the rest is nothing. Mend that place and export it "
            "again.",
        )


def _facts(
    programme: Programme, issue_date: date, reader: str, station: Station, data: Path
) -> ReadingFacts:
    assignment = _assignment(programme.key, issue_date, station)
    readers: tuple[str, ...] = (reader,)
    if assignment is not None and reader in assignment.readers:
        # Two may share a programme: what one of them hands in is read by both.
        readers = assignment.readers
    return ReadingFacts(
        reading_id=_new_id(data),
        programme_key=programme.key,
        programme_title=programme.title,
        publication=programme.publication,
        issue_date=issue_date,
        readers=readers,
        air_date=assignment.air_date if assignment else None,
    )


def _assignment(key: str, issue_date: date, station: Station) -> Assignment | None:
    for assignment in station.assignments:
        if assignment.programme_key == key and assignment.issue_date == issue_date:
            return assignment
    return None


def _new_id(data: Path) -> str:
    taken = {path.name[11:] for path in reading_paths(data)}
    while (new := uuid.uuid4().hex[:_ID_LETTERS]) in taken:
        pass
    return new


def _planned(facts: ReadingFacts, reader: str, station: Station) -> tuple[str, ...]:
    """Say where what was asked for is not what was planned."""
    assignment = _assignment(facts.programme_key, facts.issue_date, station)
    if assignment is None:
        return ("Nothing is planned for this issue: the reading has no air date yet.",)
    if assignment.readers and reader not in assignment.readers:
        return (f"It was planned for {' and '.join(assignment.readers)}; {reader} stands in.",)
    return ()


def _store(
    sound: SoundFile,
    choice: ChannelChoice,
    gain: float,
    facts: ReadingFacts,
    reader: str,
    name: str,
    tools: Tools,
) -> tuple[ReadingFolder, tuple[str, ...]]:
    """Write the reading's folder; nobody sees it until it is whole."""
    info = sound.info
    at = tools.clock()
    exact = True
    with new_reading(tools.data, facts, at=at, author=reader) as folder:
        with folder.next_take(info.sample_rate_hz) as take:
            written = 0
            for block in sound.blocks(_block_frames(info)):
                mono = choice.mono(block) * gain if gain < 1.0 else choice.mono(block)
                exact = exact and _is_exact(mono)
                take.append(pcm24_of_samples(mono))
                written += len(mono)
                tools.progress("writing the take", written / info.frames)
            folder.seal(
                take,
                origin=f"{name}: {info.encoding}. {choice.sentence}",
                author=reader,
                at=at,
            )
        remarks = _same_sound(folder, tools)
        folder.append(StateSet(state="handed in", note=""), author=reader, at=at)
    if not exact and gain == 1.0 and sound.samples != "decoded" and 1.0 in choice.weights:
        remarks += (
            "Its samples are finer than 24 bits; they were rounded to the nearest step, "
            "144 dB below full scale.",
        )
    return folder, remarks


def _is_exact(mono: NDArray[np.float64]) -> bool:
    steps = mono * FULL_SCALE
    return bool((steps == np.rint(steps)).all())


def _same_sound(made: ReadingFolder, tools: Tools) -> tuple[str, ...]:
    """Tell if another reading of the programme holds the same take."""
    sha256 = made.takes()[0].sha256
    same = [
        path.name[11:]
        for path in reading_paths(tools.data)
        if path.parent == made.path.parent
        and any(take.sha256 == sha256 for take in ReadingFolder(path).takes())
    ]
    if not same:
        return ()
    return (
        f"The same recording is here already, as reading {', '.join(same)}. This is another "
        "reading; nothing of that one was changed.",
    )


def _clear_programme(data: Path, facts: ReadingFacts) -> None:
    """Take away the programme's folder if this reading would have been its first."""
    for folder in (data / "readings" / facts.programme_key, data / "readings"):
        with suppress(OSError):
            folder.rmdir()


def _block_frames(info: SoundInfo) -> int:
    return max(1, _BLOCK_SAMPLES // info.channels)
