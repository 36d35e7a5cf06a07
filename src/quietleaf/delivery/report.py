"""The report of a finished programme: one page that needs nothing else, and no script."""

from __future__ import annotations

import math
from base64 import b64encode
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from itertools import zip_longest
from typing import Literal
from urllib.parse import quote

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from quietleaf.delivery import report_words
from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import (
    LEVELS_DB,
    NO_PICTURES,
    RepairPicture,
    RepairPictures,
    pictures_sentence,
)
from quietleaf.delivery.report_page import PAGE, PLOT, REPAIRS, THINGS
from quietleaf.delivery.report_picture import (
    HEIGHT,
    MARKS_AT,
    PAPER_HEIGHT,
    WIDTH,
    Picture,
    picture_of_curve,
    stretch_levels_lufs,
)
from quietleaf.delivery.report_style import FontFace, style
from quietleaf.delivery.spectrogram import COLUMNS, ROWS
from quietleaf.finishing.targets import DUAL_MONO_LU
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve, Verdict
from quietleaf.listening.verdict import Ground, reasons_at, verdict_at
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.planning.words import names_in_words, written_date
from quietleaf.units import Window, clock

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
    grounds : tuple of Ground
        What speaks against airing it as it is; nothing where all is well.
    review : {"none", "things to hear", "whole"}
        The programme's review depth: with the grounds it gives `verdict` and `reasons`.
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
    pictures : RepairPictures
        The sound before and after repairs.
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
    grounds: tuple[Ground, ...]
    review: ReviewDepth = USUAL_REVIEW
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
    pictures: RepairPictures = NO_PICTURES
    files: tuple[ReportFile, ...]
    player: str
    source: str
    made_at: datetime
    made_by: str
    language: str = "en-GB"

    @property
    def verdict(self) -> Verdict:
        """What is to be done with the programme."""
        return verdict_at({ground.weight for ground in self.grounds}, self.review)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why; at least one sentence."""
        return reasons_at(self.grounds, self.review)


def report_html(facts: ReportFacts, faces: tuple[FontFace, ...] = ()) -> str:
    """Write the whole page.

    Parameters
    ----------
    facts : ReportFacts
    faces : tuple of FontFace
        Type that travels inside the page; without it the page uses what the machine has.

    Returns
    -------
    page : str
        HTML with its style inside, no script, and no address but those of the files beside it.

    Notes
    -----
    The page works without script: a thing to hear opens to a player of its own that begins a
    little before it (W3C Media Fragments URI 1.0, 4.2.1), and tables and players open by the
    browser's own disclosure.
    """
    to_hear = tuple(finding for finding in facts.findings if finding.severity != "note")
    notes = tuple(finding for finding in facts.findings if finding.severity == "note")
    issue = f"issue of {written_date(facts.issue_date)}" if facts.issue_date else ""
    return _TEMPLATES.get_template("page").render(
        facts=facts,
        words=report_words,
        clock=clock,
        address=_address,
        value=_value,
        plot=_plot,
        listed=partial(_listed, facts),
        repairs=_repairs(facts.pictures) if facts.pictures.shown else "",
        page_language=_PAGE_LANGUAGE,
        lang=_lang(facts.language),
        dot=f"{report_words.KEPT}· ",
        style=Markup(style(faces)),
        issue=issue,
        head=_head(facts, issue),
        verdict=report_words.verdict_sentence(facts.verdict, len(to_hear), facts.review),
        verdict_mark=_VERDICT_MARKS[facts.verdict],
        fit=report_words.fit_sentence(facts.duration_s, facts.window),
        convention=_convention(facts),
        after=picture_of_curve(facts.after, facts.target_lufs, facts.findings),
        before=picture_of_curve(facts.before, facts.target_lufs),
        minutes=_minutes(facts),
        to_hear=to_hear,
        notes=notes,
        things_sentence=report_words.things_sentence(to_hear, facts.duration_s),
        notes_summary=report_words.notes_sentence(len(notes)),
    )


_VERDICT_MARKS = {"ready": "", "needs an ear": "hear", "read again": "fix"}
_PAGE_LANGUAGE = "en-GB"
_TEMPLATES = Environment(
    loader=DictLoader({"page": PAGE, "plot": PLOT, "things": THINGS, "repairs": REPAIRS}),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def _head(facts: ReportFacts, issue: str) -> list[str]:
    """Give what stands under the title, leaving out what is not known."""
    named = names_in_words(facts.readers)
    told = [
        Markup("<cite{}>{}</cite>").format(_lang(facts.language), facts.publication)
        if facts.publication
        else "",
        issue,
        f"read by {named}" if named else "",
        report_words.length(facts.duration_s),
    ]
    return [fact for fact in told if fact]


def _address(name: str) -> str:
    """Give the address of a file beside the page; no name leads anywhere else."""
    return quote(name, safe="", errors="surrogateescape")


def _value(figure: Figure, value: float | None) -> Markup:
    if value is None:
        return Markup('<span aria-hidden="true">–</span><span class="unseen">not measured</span>')
    return Markup('<span class="number">{}<span class="unit">{}{}</span></span>').format(
        report_words.number(value, figure.decimals),
        report_words.KEPT if figure.unit else "",
        figure.unit,
    )


def _plot(name: str, heading: str, picture: Picture) -> Markup:
    return Markup(
        _TEMPLATES.get_template("plot").render(
            name=name,
            heading=heading,
            picture=picture,
            width=WIDTH,
            height=HEIGHT,
            paper=PAPER_HEIGHT,
            marks=MARKS_AT,
        )
    )


def _listed(facts: ReportFacts, findings: tuple[Finding, ...]) -> Markup:
    return Markup(
        _TEMPLATES.get_template("things").render(
            findings=findings,
            words=report_words,
            address=_address,
            player=facts.player,
            duration_s=facts.duration_s,
        )
    )


def _repairs(pictures: RepairPictures) -> Markup:
    return Markup(
        _TEMPLATES.get_template("repairs").render(
            pictures=pictures,
            sentence=pictures_sentence(pictures),
            words=report_words,
            clock=clock,
            drawn=_drawn,
            columns=COLUMNS,
            rows=ROWS,
            levels_db=LEVELS_DB,
        )
    )


def _drawn(picture: RepairPicture) -> list[tuple[str, str]]:
    """Give both pictures with their names, as addresses that hold them whole."""
    pngs = {"Before": picture.before_png, "Now": picture.after_png}
    return [
        (name, f"data:image/png;base64,{b64encode(png).decode('ascii')}")
        for name, png in pngs.items()
    ]


def _lang(language: str) -> Markup:
    if language == _PAGE_LANGUAGE:
        return Markup("")
    return Markup(' lang="{}"').format(language)


def _convention(facts: ReportFacts) -> str:
    if facts.convention == "one channel":
        return "Loudness counts the file’s one channel as it is."
    alone = report_words.number(facts.target_lufs - DUAL_MONO_LU)
    return (
        "Loudness counts the file’s one channel as heard from two loudspeakers, which is 3.01 LU "
        f"more than the channel by itself: there the target reads {alone} LUFS."
    )


def _minutes(facts: ReportFacts) -> list[tuple[str, str, str]]:
    came_in = stretch_levels_lufs(facts.before, 60.0).tolist()
    master = stretch_levels_lufs(facts.after, 60.0).tolist()
    return [
        (clock(60.0 * minute), _level(before), _level(after))
        for minute, (before, after) in enumerate(zip_longest(came_in, master))
    ]


def _level(level_lufs: float | None) -> str:
    return "silence" if level_lufs == -math.inf else report_words.number(level_lufs)
