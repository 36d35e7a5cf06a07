"""A check of opening and closing words as JSON, beside a hearing or kept by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from quietleaf.listening.words_check import PartCheck, WordsCheck, WordsFinding

SCHEMA = "quietleaf/words/1"


def words_to_json(check: WordsCheck) -> dict[str, object]:
    """Give a check as plain objects; seconds to a hundredth, as the recogniser counts."""
    return {"opening": _part_to_json(check.opening), "closing": _part_to_json(check.closing)}


def words_from_json(told: Mapping[str, Any]) -> WordsCheck:
    """Read what `words_to_json` gave.

    Raises
    ------
    KeyError, TypeError
        If it is nothing of the kind.
    """
    return WordsCheck(
        opening=_part_from_json(told["opening"]), closing=_part_from_json(told["closing"])
    )


def _part_to_json(part: PartCheck | None) -> dict[str, object] | None:
    if part is None:
        return None
    return {
        "state": part.state,
        "start_s": _rounded(part.start_s),
        "end_s": _rounded(part.end_s),
        "findings": [
            asdict(finding)
            | {"start_s": _rounded(finding.start_s), "end_s": _rounded(finding.end_s)}
            for finding in part.findings
        ],
        "why_not": part.why_not,
    }


def _part_from_json(told: Mapping[str, Any] | None) -> PartCheck | None:
    if told is None:
        return None
    findings = tuple(WordsFinding(**finding) for finding in told["findings"])
    return PartCheck(**{**told, "findings": findings})


def _rounded(time_s: float | None) -> float | None:
    return None if time_s is None else round(time_s, 2)
