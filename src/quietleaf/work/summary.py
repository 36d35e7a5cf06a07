"""A reading in short: how far it has got and what was heard in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from quietleaf.booth.reading import ReadingState
from quietleaf.listening.hearing import Verdict
from quietleaf.listening.verdict import WEIGHTS_BEFORE, verdict_at
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.storage.index_rows import ReadingRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """A reading in short.

    Attributes
    ----------
    duration_s : float
        Length of its master; of what was recorded where there is none.
    verdict : {"ready", "needs an ear", "read again"} or None
        Of its master, by the review depth; None where there is none.
    review : {"none", "things to hear", "whole"}
        Its programme's as it is now.
    things_to_hear : int
        Findings that ask for a person.
    misfit_s : float
        By how much the master is shorter (negative) or longer than its window; 0 where it fits.
    """

    reading_id: str
    programme_title: str
    publication: str
    issue_date: date
    air_date: date | None
    readers: tuple[str, ...]
    state: ReadingState
    duration_s: float
    verdict: Verdict | None
    review: ReviewDepth = USUAL_REVIEW
    things_to_hear: int
    misfit_s: float


def summary_of(row: ReadingRow, review: ReviewDepth = USUAL_REVIEW) -> Summary:
    """Sum up a reading from its row in the index, judged by a review depth."""
    report = next((master for master in row.masters if master.kind == "report"), None)
    facts = {} if report is None else report.facts
    weights = facts.get("weights")
    if weights is None and "verdict" in facts:
        weights = WEIGHTS_BEFORE[facts["verdict"]]
    return Summary(
        reading_id=row.reading_id,
        programme_title=row.programme_title,
        publication=row.publication,
        issue_date=row.issue_date,
        air_date=row.air_date,
        readers=row.readers,
        state=row.state,
        duration_s=facts.get("duration_s", row.duration_s),
        verdict=None if weights is None else verdict_at(weights, review),
        review=review,
        things_to_hear=facts.get("things_to_hear", 0),
        misfit_s=facts.get("misfit_s", 0.0),
    )
