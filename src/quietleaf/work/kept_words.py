"""What was found of opening and closing words, kept in the reading's folder."""

from __future__ import annotations

import json
from pathlib import Path

from quietleaf.listening.words_check import WordsCheck
from quietleaf.listening.words_json import SCHEMA, words_from_json, words_to_json
from quietleaf.storage.disk import replace_whole


def keep_words(folder: Path, of_sha256: str, check: WordsCheck) -> None:
    """Keep a check among a reading's measures, under the checksum of what it was made on."""
    told = {"schema": SCHEMA, **words_to_json(check)}
    text = json.dumps(told, ensure_ascii=False, allow_nan=False)
    replace_whole(_path(folder, of_sha256), text.encode() + b"\n")


def kept_words(folder: Path, of_sha256: str) -> WordsCheck | None:
    """Give what was kept; None where the words of this sound were never checked."""
    try:
        told = json.loads(_path(folder, of_sha256).read_bytes())
        return words_from_json(told) if told["schema"] == SCHEMA else None
    except (OSError, ValueError, KeyError, TypeError):
        # Whatever is wrong with it: whoever listens next checks anew.
        return None


def _path(folder: Path, of_sha256: str) -> Path:
    return folder / "measures" / f"words-{of_sha256[:16]}.json"
