"""The report of a finished programme: one page that needs nothing else, and no script."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from quietleaf.delivery.id3 import Chapter
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve, Verdict
from quietleaf.units import Window

Convention = Literal["one channel", "dual mono"]
"""How a mono file is counted: as it is, or as the same sound from two loudspeakers (+3.01 LU)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One measured number, before and after, beside what it was held against.

    Attributes
    ----------
    name : str
        In words: "Loudness", "True peak".
    unit : str
        As printed: "LUFS", "dBTP", "LU".
    before, after : float or None
        None where there is no measurement.
    target : str
        In words: "-23.0 ± 0.2", "at most -1.0"; empty where nothing was asked.
    met : bool or None
        None where nothing was asked.
    """

    name: str
    unit: str
    before: float | None
    after: float | None
    target: str = ""
    met: bool | None = None
    decimals: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing that the plan did, and why; both in plain words."""

    text: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFile:
    """A file beside the report.

    Attributes
    ----------
    name : str
        The file's name alone; the link is made from it.
    what : str
        In words: "Broadcast Wave, 24 bits".
    """

    name: str
    what: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFacts:
    """Everything that a report says.

    Attributes
    ----------
    title : str
        The programme; the file's name where there is no programme.
    duration_s, duration_before_s : float
        Length of the master, and of what came in.
    window : Window or None
        None where any length will do.
    target_lufs, tolerance_lu, ceiling_dbtp : float
        What the master was held against; ``target_lufs`` counts by ``convention``.
    before, after : Curve
        Loudness over time of what came in and of the master; counted by ``convention`` too.
    findings : tuple of Finding
        What is to be heard in the master, in seconds of the master.
    files : tuple of ReportFile
        The master and its companions, in the order in which they are offered.
    player : str
        Name of the sibling file that the page plays.
    made_at : datetime
        Aware; printed in its own zone.
    made_by : str
        Program, version and recipe: "Quietleaf 0.1.0".
    """

    title: str
    publication: str = ""
    issue_date: date | None = None
    readers: tuple[str, ...] = ()
    verdict: Verdict
    reasons: tuple[str, ...]
    figures: tuple[Figure, ...]
    convention: Convention
    duration_s: float
    duration_before_s: float
    window: Window | None
    target_lufs: float
    tolerance_lu: float = 0.2
    ceiling_dbtp: float
    before: Curve
    after: Curve
    findings: tuple[Finding, ...]
    chapters: tuple[Chapter, ...] = ()
    done: tuple[Deed, ...]
    files: tuple[ReportFile, ...]
    player: str
    source: str
    made_at: datetime
    made_by: str
    language: str = "en-GB"


def report_html(facts: ReportFacts) -> str:
    """Write the whole page."""
    raise NotImplementedError(facts.title)
