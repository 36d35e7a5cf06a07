"""Short prompts that one speaker read for telephones, many beginning with the same words.

Packages of Debian hold them, with their texts: five languages, five speakers. They are second
renditions that nobody made: the same words by the same voice on the same day. Credit: the
packages' authors, CC BY-SA 3.0; only numbers learned from them leave this machine.
"""

from __future__ import annotations

import gzip
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.proving.open_archives import decode, fetch
from bench.proving.shaping import resampled
from tests.helpers import ROOT

CACHE = ROOT / ".cache" / "prompts"
RATE_HZ = 16_000
_VERSION = "1.6.1-1"
_SOUNDS = "usr/share/asterisk/sounds"
_SOURCES = {
    "prompt-en": ("asterisk-core-sounds-en-g722", _VERSION, "en_US_f_*", "en"),
    "prompt-es": ("asterisk-core-sounds-es-g722", _VERSION, "es_MX_f_*", "es"),
    "prompt-fr": ("asterisk-core-sounds-fr-g722", _VERSION, "fr_CA_f_*", "fr"),
    "prompt-it": ("asterisk-core-sounds-it-g722", _VERSION, "it_IT_m_*", "it"),
    "prompt-ru": ("asterisk-core-sounds-ru-g722", _VERSION, "ru_RU_f_*", "ru"),
}
"""Package, version, folder of the voice, language of its texts."""
_SPELT = ("digits", "letters", "phonetic", "silence")
_LEAST_S = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """One prompt.

    Attributes
    ----------
    words : tuple of str
        Lower case; empty where the text is not known.
    samples : ndarray, shape (n,)
        16 kHz.
    """

    name: str
    words: tuple[str, ...]
    samples: NDArray[np.float64]


def load_prompts(voice: str) -> list[Prompt]:
    """Give the prompts of a voice; fetched into the cache folder the first time."""
    package, version, folder, language = _SOURCES[voice]
    (sounds,) = (unpacked(package, version) / _SOUNDS).glob(folder)
    texts = _texts(language)
    prompts = []
    for path in sorted(sounds.rglob("*")):
        name = path.relative_to(sounds).with_suffix("").as_posix()
        if not path.is_file() or name.split("/")[0] in _SPELT or "beep" in name or "tt-" in name:
            continue
        samples, rate = decode(path)
        if samples.size >= _LEAST_S * rate:
            words = tuple(re.sub(r"[^\w\s]", " ", texts.get(name, "").lower()).split())
            prompts.append(
                Prompt(name=name, words=words, samples=resampled(samples, rate, RATE_HZ))
            )
    return prompts


def prompt_voices() -> tuple[str, ...]:
    """Give the voices there are."""
    return tuple(sorted(_SOURCES))


def _texts(language: str) -> dict[str, str]:
    package = f"asterisk-core-sounds-{language}"
    folder = unpacked(package, _VERSION) / "usr" / "share" / "doc" / package
    return dict(_lines(folder / f"core-sounds-{language}.txt.gz"))


def _lines(path: Path) -> Iterator[tuple[str, str]]:
    with gzip.open(path, "rt", encoding="utf-8", errors="replace") as lines:
        for line in lines:
            found = re.match(r"([\w/-]+):\s*(.*)", line.strip())
            if found:
                yield found[1], found[2]


def unpacked(package: str, version: str) -> Path:
    """Give the folder of a package of Debian, fetched the first time."""
    folder = CACHE / package
    if not folder.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        file = f"{package}_{version.replace(':', '%3a')}_all.deb"
        archive = fetch("debian", package, version, file, CACHE)
        subprocess.run(["dpkg-deb", "-x", str(archive), str(folder)], check=True)
        archive.unlink()
    return folder
