"""A session of twelve stumbles at the stand, by keyboard alone, into a fed microphone.

In the first seconds, mid-sentence, one sentence further back, a picked stretch, over a page turn,
twice and three times in one place, over an article mark, begun early, begun late, with headphones
that leak, with the network away. The programme has the wanted sentences, each once and whole.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray
from scipy.signal import resample_poly

from quietleaf.booth.edits import Again, ArticleStarted, Undo
from quietleaf.booth.replay import counting
from quietleaf.listening.join_check import CONTEXT_S, check_join
from quietleaf.listening.structure import FRAMES_PER_S, structure_of_sound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.timeline_sound import CROSS_FADE_S, TimelineSound
from tests import helpers
from tests.alignment import align, are_known, words_of
from tests.browser.microphone import RATE_HZ, SCALE, microphone_flags, place_in, write_microphone
from tests.browser.standing import at_the_stand
from tests.browser.test_stand_leading import tab_to_the_strip
from tests.browser.test_stand_reading import HEARD, ROLLING, hear_until
from tests.helpers import running_browser
from tests.readings import AT
from tests.voices import Made
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.long

LISTEN = "Listen, then read on"
LEAD_IN_S = 3.0
PRESS_S = 1.6
"""So long nobody speaks where a key is pressed."""
LED_S = LEAD_IN_S + 0.9
LEAK_DB = -32.0
GAP_S = 0.2
LEAST_S, MOST_S = 1.8, 3.6
WORDS_MIN = 4
ROOM_DBOV = -70.0
ROOM_S = 0.6
OFF_S = 0.2
"""A word begins within so much of where it does when its sentence is aligned alone."""


@dataclass
class Script:
    """What the microphone hears, and when which key is pressed; places in samples."""

    sentences: list[tuple[NDArray[np.float64], str]]
    sound: list[NDArray[np.float64]] = field(default_factory=list)
    length: int = 0
    spoken: list[tuple[int, int, int, bool]] = field(default_factory=list)
    keys: list[tuple[float, str, str]] = field(default_factory=list)
    leaks: list[tuple[int, int]] = field(default_factory=list)
    next_one: int = 0

    def lay(self, samples: NDArray[np.float64]) -> tuple[int, int]:
        start = self.length
        self.sound.append(samples)
        self.length += samples.size
        return start, self.length

    def pause(self, seconds: float) -> None:
        self.lay(np.zeros(round(seconds * RATE_HZ)))

    def part(self, share: float = 0.5) -> int:
        """Begin the next sentence, and stumble in it; give where it began."""
        samples = self.sentences[self.next_one][0]
        cut = samples[: round(share * samples.size)].copy()
        fade = round(0.02 * RATE_HZ)
        cut[-fade:] *= np.linspace(1.0, 0.0, fade)
        start, stop = self.lay(cut)
        self.spoken.append((self.next_one, start, stop, False))
        return start

    def say(self, *, wanted: bool = True) -> int:
        """Read the next sentence whole."""
        start, stop = self.lay(self.sentences[self.next_one][0])
        self.spoken.append((self.next_one, start, stop, wanted))
        self.next_one += 1
        return start

    def press(self, key: str, state: str, pause_s: float = PRESS_S) -> None:
        self.keys.append(((self.length / RATE_HZ) + 0.35, key, state))
        self.pause(pause_s)

    def again(self, led_s: float = LED_S) -> None:
        self.press("a", LISTEN)
        self.pause(led_s - PRESS_S)

    def made(self) -> NDArray[np.float64]:
        whole = np.concatenate(self.sound)
        for at, back in self.leaks:
            lead_in = whole[back - round(LEAD_IN_S * RATE_HZ) : back]
            whole[at : at + lead_in.size] += lead_in * 10 ** (LEAK_DB / 20)
        return with_room(whole)


def with_room(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give what is heard with the sound of the room."""
    room = np.random.default_rng(4).normal(size=samples.size) * 10 ** (ROOM_DBOV / 20)
    heard: NDArray[np.float64] = samples + room
    return heard


def in_room(sentence: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give a sentence alone, with a pause before and after it."""
    return with_room(np.pad(sentence, round(ROOM_S * RATE_HZ)))


def is_whole(sentence: NDArray[np.float64], text: str) -> bool:
    """Say whether these words are known and reach from one end of a sentence to the other."""
    if not are_known(text):
        return False
    words = align(in_room(sentence), RATE_HZ, text)
    length_s = sentence.size / RATE_HZ
    return words[0][1] < ROOM_S + OFF_S and words[-1][2] > ROOM_S + length_s - OFF_S


def real_sentences(recordings: Path) -> list[tuple[NDArray[np.float64], str]]:
    """Give stretches of one reader between two pauses, with their words.

    They stand for sentences: a pause inside a sentence may be gone back to, which the reader of
    this script cannot tell.
    """
    listed = json.loads((recordings / "catalogue.json").read_text())
    found = []
    for row in listed:
        if row.get("voice_id") != "lj" or "words" not in row or row["kind"] != "speech":
            continue
        samples, rate = sf.read(recordings / row["file"])
        heard = resample_poly(samples, RATE_HZ, rate) * 0.7
        structure = structure_of_sound(heard, RATE_HZ)
        assert structure is not None
        runs = structure.runs
        parted = np.flatnonzero(runs[1:, 0] - runs[:-1, 1] >= GAP_S * FRAMES_PER_S)
        for a, b in pairwise([0, *(parted + 1), len(runs)]):
            start_s, stop_s = runs[a, 0] / FRAMES_PER_S, runs[b - 1, 1] / FRAMES_PER_S
            words = [
                word
                for word, begins, ends in row["words"]
                if begins > start_s - 0.15 and ends < stop_s + 0.15
            ]
            if LEAST_S <= stop_s - start_s <= MOST_S and len(words) >= WORDS_MIN:
                first, stop = (round(at * RATE_HZ) for at in (start_s - 0.05, stop_s + 0.08))
                found.append((heard[max(first, 0) : stop], " ".join(words)))
    return found


def made_sentences(count: int) -> list[tuple[NDArray[np.float64], str]]:
    draw = np.random.default_rng(12)
    found = []
    for seed in range(count):
        made = Made(seed=40 + seed, room_dbov=-120.0)
        made.speech(float(draw.uniform(1.9, 2.6)))
        found.append((made.samples(), ""))
    return found


def session(sentences: list[tuple[NDArray[np.float64], str]]) -> Script:
    script = Script(sentences=sentences)
    pause = 0.7
    script.press("Space", ROLLING)

    def go_on() -> None:
        script.say()
        script.pause(pause)

    script.part(0.4)  # 1: in the first seconds
    script.pause(0.3)
    script.again()
    go_on()
    script.part()  # 2: mid-sentence
    script.pause(0.3)
    script.again()
    go_on()
    # 3: one sentence further back: the last one is read again, and then the one that stumbled.
    number, start, stop, _ = script.spoken.pop()
    script.spoken.append((number, start, stop, False))
    script.part()
    script.pause(0.3)
    script.press("a", LISTEN, 0.8)
    script.press("a", "One sentence further back.", 0.8)
    script.pause(LED_S - 0.8)
    script.next_one -= 1
    go_on()
    go_on()
    # 4: a stretch of the strip is picked: the last whole sentence once more.
    number, start, stop, _ = script.spoken.pop()
    script.spoken.append((number, start, stop, False))
    script.part()
    script.pause(0.3)
    script.press("strip", LISTEN, 3.0)
    script.pause(LED_S - 1.5)
    script.next_one -= 1
    go_on()
    go_on()
    # 5: over a hold and a page turn.
    script.part()
    script.pause(0.4)
    script.press("Space", "Held.")
    script.again()
    go_on()
    # 6, 7: twice, then three times in the same place.
    for times in (2, 3):
        for _ in range(times):
            script.part(0.5)
            script.pause(0.3)
            script.again()
        go_on()
    # 8: over an article mark.
    script.pause(0.8)
    script.press("n", ROLLING)
    script.part()
    script.pause(0.3)
    script.again()
    go_on()
    # 9: begun before the lead-in has ended.
    script.part()
    script.pause(0.3)
    script.again(LEAD_IN_S - 0.5)
    go_on()
    # 10: begun late.
    script.part()
    script.pause(0.3)
    script.again(LED_S + 3.0)
    go_on()
    # 11: the headphones leak.
    back = script.part() - round(0.12 * RATE_HZ)
    script.pause(0.3)
    at = script.length + round(0.5 * RATE_HZ)
    script.leaks.append((at, back))
    script.again()
    go_on()
    # 12: while the network is away.
    script.part()
    script.pause(0.3)
    script.press("offline", ROLLING, 0.8)
    script.again()
    go_on()
    script.press("online", ROLLING, 0.8)
    script.press("Space", "Held.")
    return script


@dataclass(frozen=True, kw_only=True)
class Session:
    script: Script
    fed: NDArray[np.int32]
    data: Path
    reading: Path

    @property
    def folder(self) -> ReadingFolder:
        return ReadingFolder(self.reading)

    def inside(self, folder: ReadingFolder) -> NDArray[np.bool_]:
        """Say for each sample that was fed whether it is in the programme."""
        mask = np.zeros(self.fed.size, dtype=bool)
        for span in folder.timeline().spans:
            with folder.open_take(span.take) as sound:
                kept = np.round(sound.read(0, sound.info.frames)[:, 0] * SCALE).astype(np.int32)
            begins = place_in(self.fed, kept)
            mask[begins + span.start : begins + span.stop] = True
        return mask


def act(page: Page, key: str) -> None:
    match key:
        case "offline" | "online":
            page.context.set_offline(key == "offline")
        case "strip":
            page.keyboard.press("a")
            page.locator("#state", has_text=LISTEN).wait_for()
            tab_to_the_strip(page)
            # The last stretch is the one that stumbled; the one before it was whole.
            page.keyboard.press("ArrowLeft")
            page.keyboard.press("Enter")
        case _:
            page.keyboard.press(key)


@pytest.fixture(scope="module")
def read(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """Read the session at the stand."""
    folder = tmp_path_factory.mktemp("session")
    try:
        sentences = real_sentences(helpers.find_recordings())
        if find_spec("pocketsphinx"):
            sentences = [each for each in sentences if is_whole(*each)]
    except helpers.HelperMissing:
        sentences = made_sentences(20)
    script = session(sentences)
    fed = np.round(np.clip(script.made(), -0.99, 0.99) * SCALE).astype(np.int32)
    write_microphone(folder / "microphone.wav", fed)
    flags = microphone_flags(folder / "microphone.wav")
    with (
        at_the_stand(folder / "station") as at,
        running_browser(folder / "browser", flags=flags) as (_, address),
    ):
        own = browser.browser_type.connect_over_cdp(address)
        page = at.context(own, viewport={"width": 1280, "height": 860}).new_page()
        page.add_init_script(HEARD)
        page.goto(f"{at.address}/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        for at_s, key, state in script.keys:
            hear_until(page, at_s)
            act(page, key)
            page.locator("#state", has_text=state).wait_for()

        def is_placed() -> bool:
            now = at.folder.reload()
            # The ends of a take are looked at after its joins.
            return any(edit.edit_id.startswith("trim:2:") for edit in now.ledger())

        wait_for(is_placed)
        page.wait_for_timeout(2_000)
        yield Session(script=script, fed=fed, data=folder, reading=at.folder.path)
        own.close()


def test_the_programme_has_each_wanted_sentence_once_and_whole(read: Session) -> None:
    inside = read.inside(read.folder)
    edge = round(0.03 * RATE_HZ)
    for number, start, stop, wanted in read.script.spoken:
        share = float(inside[start : stop - edge].mean())
        assert share == (1.0 if wanted else 0.0), (number, start / RATE_HZ, share)


def test_no_join_pauses_longer_or_shorter_than_people_read(read: Session) -> None:
    inside = read.inside(read.folder)
    wanted = [(start, stop) for _, start, stop, is_wanted in read.script.spoken if is_wanted]
    pauses = [float(inside[one[1] : other[0]].sum()) / RATE_HZ for one, other in pairwise(wanted)]
    assert min(pauses) > 0.12
    # A mark needs its silence; joins and the others are as a reader pauses.
    assert sorted(pauses)[-2] < 1.4


def test_nothing_shows_at_any_join(read: Session) -> None:
    with TimelineSound(read.folder, 48_000) as sound:
        samples = np.concatenate([block[:, 0] for block in sound.blocks()])
        joins = sound.joins
    assert len(joins) >= 10
    fade = round(CROSS_FADE_S * 48_000)
    context = round(CONTEXT_S * 48_000)
    bounds = [0, *joins, samples.size]
    for index, join in enumerate(joins):
        first = max(bounds[index], join - context)
        part = samples[first : min(bounds[index + 2], join + context)]
        heard = check_join(part, 48_000, join - first, fade_samples=fade)
        assert heard.faults == (), (join / 48_000, heard)


def test_the_article_moved_with_its_sentence(read: Session) -> None:
    folder = read.folder
    (article,) = folder.timeline().articles
    asked = [edit.what for edit in folder.ledger() if isinstance(edit.what, ArticleStarted)]
    assert (article.take, article.sample) >= (asked[0].take, asked[0].sample)
    assert any(span.start == article.sample for span in folder.timeline().spans)


def test_taking_each_back_brings_the_old_sentence_back(read: Session, tmp_path: Path) -> None:
    placed = [
        edit.number for edit in counting(read.folder.standing) if isinstance(edit.what, Again)
    ]
    assert len(placed) >= 12
    before = read.inside(read.folder)
    for number in placed:
        copied = tmp_path / f"{number}"
        shutil.copytree(read.reading, copied)
        folder = ReadingFolder(copied)
        folder.append(Undo(of=number), author="Desk", at=AT)
        after = read.inside(folder)
        assert (after & ~before).sum() > 0.5 * RATE_HZ or _is_inside_another(folder, number)
        assert not (before & ~after).any()


def _is_inside_another(folder: ReadingFolder, number: int) -> bool:
    """Say whether another *again* over the same ground still leaves it out."""
    undone = folder.ledger()[number - 1].what
    assert isinstance(undone, Again)
    return any(
        isinstance(edit.what, Again)
        and edit.number != number
        and (edit.what.back_take, edit.what.back_sample)
        <= (undone.back_take, undone.back_sample + RATE_HZ)
        and (edit.what.take, edit.what.resume) >= (undone.take, undone.resume)
        for edit in counting(folder.standing)
    )


def test_the_known_words_lie_along_the_programme(read: Session) -> None:
    pytest.importorskip("pocketsphinx")
    wanted = [read.script.sentences[number] for number, _, _, is_in in read.script.spoken if is_in]
    if not all(text for _, text in wanted):
        pytest.skip("the made voice has no words")
    with TimelineSound(read.folder, 48_000) as sound:
        samples = np.concatenate([block[:, 0] for block in sound.blocks()])
    aligned = align(samples, 48_000, " ".join(text for _, text in wanted))
    at, off, reached = 0, [], []
    for spoken, text in wanted:
        count = len(words_of(text))
        found = _edges(aligned[at : at + count])
        away = found - _edges(align(in_room(spoken), RATE_HZ, text))
        off.append(float(np.abs(away - np.median(away)).max()))
        reached.append((found[0], found[-1]))
        at += count
    # Words will be laid along any sound. Where some is too much, they lie elsewhere in it than in
    # their sentence alone, or far from the next one.
    assert max(off) < OFF_S, off
    between = sorted(other[0] - one[1] for one, other in pairwise(reached))
    assert between[0] > 0.1
    assert between[-2] < 1.5  # the longest is where the article was marked
    assert reached[0][0] < 1.0
    assert samples.size / 48_000 - reached[-1][1] < 1.5


def _edges(words: list[tuple[str, float, float]]) -> NDArray[np.float64]:
    """Give where each word begins, and where the last one ends."""
    return np.array([*(begins for _, begins, _ in words), words[-1][2]])
