"""The sentences of a report."""

from __future__ import annotations

from typing import get_args

from quietleaf.delivery.report_words import FINDING_WORDS, SEVERITY_WORDS, hear_range_s
from quietleaf.listening.findings import Finding, FindingKind, Severity


def test_every_kind_and_severity_has_its_words() -> None:
    assert set(FINDING_WORDS) == set(get_args(FindingKind))
    assert set(SEVERITY_WORDS) == set(get_args(Severity))


def test_what_is_played_stays_in_the_programme() -> None:
    finding = Finding(
        kind="click",
        start_s=1.0,
        end_s=9.5,
        severity="hear",
        value=None,
        limit=None,
        unit="",
        advice="",
    )
    assert hear_range_s(finding, 10.0) == (0.0, 10.0)
