"""The report: what it says, and that nothing in it leads anywhere else."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import RepairPictures
from quietleaf.delivery.report import Deed, Figure, ReportFacts, ReportFile, report_html
from quietleaf.delivery.report_style import (
    DARK,
    DARK_CONTRAST,
    LIGHT,
    LIGHT_CONTRAST,
    FontFace,
)
from quietleaf.listening.hearing import Curve
from quietleaf.listening.verdict import Ground, Weight
from quietleaf.planning.programme import ReviewDepth
from quietleaf.storage.report_faces import report_faces
from quietleaf.units import Window
from tests.report_facts import report_facts

VOID = {"meta", "link", "br", "img", "input", "hr"}
ADDRESSES = {"href", "src", "srcset", "action", "data", "poster", "background", "formaction"}


class Read(HTMLParser):
    """The page as a strict reader has it: what is open must be closed, in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[str] = []
        self.text = ""
        self.ids: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember a tag and its attributes, each at most once."""
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names))
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if dict(attrs).get("id"):
            self.ids.append(str(dict(attrs)["id"]))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Close what is open."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Gather text, and headings by level."""
        if "style" not in self.open:
            self.text += data
        if self.open and data.strip() and {"h1", "h2", "h3"} & set(self.open):
            self.headings.append(data.strip())

    def addresses(self) -> list[str]:
        """Give everything that leads somewhere."""
        return [
            value or ""
            for _, attributes in self.tags
            for name, value in attributes.items()
            if name.split(":")[-1] in ADDRESSES
        ]


def told(facts: ReportFacts) -> str:
    """The text of the page, on one line, with plain spaces."""
    return " ".join(Read(report_html(facts)).text.replace("\N{NO-BREAK SPACE}", " ").split())


def test_order_of_the_page() -> None:
    assert Read(report_html(report_facts())).headings == [
        "Letters to the Editor",
        "Three things to hear before it is cleared.",
        "Numbers against their targets",
        "Loudness over time",
        "Things to hear",
        "Read twice",
        "at 3:12 to 3:14",
        "Paper",
        "at 11:40 to 11:41",
        "Too loud for the recording",
        "at 22:05",
        "Long silence",
        "at 31:17 to 31:23",
        "What was done",
        "Noise",
        "at 11:40",
        "Listen",
        "Files",
        "How it was made",
    ]


@pytest.mark.parametrize(
    "sentence",
    [
        "The Marrowby Courier · issue of Wednesday 25 November 2026 · read by Joan Abara and Peter "
        "Quill · 56 min 31",
        "One word is too loud for the recording at 22:05.",
        "56 min 31 long, which fits its window of 56:00 to 58:00.",
        "Loudness Came in −31.2 LUFS Master −23.0 LUFS Asked for −23.0 ± 0.2, kept",
        "Noise between words Came in −61.3 dBov Master −53.0 dBov Asked for at most −55.0, "
        "not kept",
        "Speaking pace Came in –not measured Master 158 words a minute",
        "Loudness counts the file’s one channel as it is.",
        "Three things to hear, 19 seconds in all.",
        "Louder than usual for this reader, over two words. Measured −20.1 dBov; the limit is "
        "−26.0 dBov. Somebody should listen.",
        "One note for the record",
        "Nobody spoke for −6.5 seconds & more <here>.",
        "The whole was raised by 8.2 dB to −23.0 LUFS. 1.5 % of it was held under the ceiling",
        "0:21 On the ferry timetable",
        "Master, Broadcast Wave, 24 bits letters-2026-11-25.wav, 488 MB",
        "From the reading 7f3a in the Marrowby booth, 58 min 22",
        "Wednesday 25 November 2026, 14:31 (UTC)",
        "Quietleaf 0.1.0",
    ],
)
def test_what_it_says(sentence: str) -> None:
    # Cells and headings stand apart by their place; here white space stands for it.
    squeezed = re.sub(r"\s+", "", told(report_facts()))
    assert re.sub(r"\s+", "", sentence) in squeezed


def test_dual_mono_is_told_apart() -> None:
    facts = dataclasses.replace(report_facts(), convention="dual mono")
    assert (
        "Loudness counts the file’s one channel as heard from two loudspeakers, which is 3.01 LU "
        "more than the channel by itself: there the target reads −26.0 LUFS."
    ) in told(facts)


@pytest.mark.parametrize(
    ("weight", "review", "sentence", "mark"),
    [
        ("ear", "none", "Ready for the air.", ""),
        ("stop", "none", "This cannot go out as it is.", "hear"),
        ("ear", "things to hear", "Three things to hear before it is cleared.", "hear"),
        ("ear", "whole", "To be heard whole before it is cleared.", "hear"),
        ("again", "none", "This should be read again.", "fix"),
    ],
)
def test_verdict_is_a_sentence(
    weight: Weight, review: ReviewDepth, sentence: str, mark: str
) -> None:
    grounds = (Ground(text="Why.", weight=weight),)
    facts = dataclasses.replace(report_facts(), grounds=grounds, review=review)
    page = report_html(facts)
    assert f'<h2 id="verdict"><span class="mark {mark}">{sentence}</span></h2>' in page


def test_page_with_nothing_but_what_it_must_have() -> None:
    facts = ReportFacts(
        title="reading.wav",
        grounds=(),
        figures=(),
        convention="one channel",
        duration_s=0.05,
        duration_before_s=0.05,
        window=None,
        target_lufs=-16.5,
        ceiling_dbtp=-1.0,
        before=Curve(power=np.zeros(0)),
        after=Curve(power=np.zeros(0)),
        findings=(),
        done=(),
        files=(),
        player="reading.mp3",
        source="reading.wav",
        made_at=report_facts().made_at,
        made_by="Quietleaf",
    )
    text = told(facts)
    assert "Ready for the air. Nothing was found that needs hearing. 0 seconds long." in text
    assert "Nothing was found that needs an ear." in text
    assert "Nothing had to be changed." in text
    assert "Nothing is loud enough to show." in text
    assert "None" not in text


def test_minutes_stand_in_the_twin() -> None:
    power = np.concatenate([np.full(600, 10 ** (-2.2309)), np.zeros(600), np.full(50, 1e-3)])
    facts = dataclasses.replace(
        report_facts(), after=Curve(power=power), before=Curve(power=power[:600] / 10)
    )
    page = report_html(facts)
    # -22.309 - 0.691 = -23; a tenth of the power is 10 dB less.
    assert '<th scope="row">0:00</th><td>−33.0</td><td>−23.0</td>' in page
    assert '<th scope="row">1:00</th><td></td><td>silence</td>' in page
    assert '<th scope="row">2:00</th><td></td><td>−30.7</td>' in page


def test_nothing_leads_anywhere_else_and_nothing_runs() -> None:
    read = Read(report_html(report_facts(), report_faces()))
    names = {tag for tag, _ in read.tags}
    assert not names & {"script", "link", "iframe", "object", "embed", "form", "base"}
    assert not [name for _, attributes in read.tags for name in attributes if name[:2] == "on"]
    pictures = [str(one["src"]) for tag, one in read.tags if tag == "img"]
    assert all(address.startswith("data:image/png;base64,") for address in pictures)
    assert {address.split("#")[0] for address in read.addresses()} - {*pictures} == {
        "letters-2026-11-25.wav",
        "letters-2026-11-25.mp3",
        "plan.json",
    }
    assert "http" not in report_html(report_facts())
    assert not re.search(r"url\((?!\"data:font/woff2;base64,)", report_html(report_facts()))
    assert "@import" not in report_html(report_facts())


def test_a_repair_has_two_pictures_and_a_text_twin() -> None:
    images = [one for tag, one in Read(report_html(report_facts())).tags if tag == "img"]
    assert [str(one["alt"]) for one in images] == [
        "Before: 1.5 seconds around it, 0 to 8 kHz",
        "Now: 1.5 seconds around it, 0 to 8 kHz",
    ]
    assert "It stood 19.0 dB over the room, and stands 0.4 dB over it now. Level there:" in told(
        report_facts()
    )
    many = dataclasses.replace(report_facts().pictures, repairs=61)
    assert "Of 61 repairs 1 are shown" in told(dataclasses.replace(report_facts(), pictures=many))


def test_names_of_parts_are_there_once_and_named_parts_exist() -> None:
    read = Read(report_html(report_facts()))
    assert len(read.ids) == len(set(read.ids))
    for _, attributes in read.tags:
        for name in ("aria-labelledby", "aria-describedby"):
            for part in (attributes.get(name) or "").split():
                assert part in read.ids
    levels = [int(tag[1]) for tag, _ in read.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_each_thing_to_hear_begins_before_it() -> None:
    sources = [
        str(attributes["src"])
        for tag, attributes in Read(report_html(report_facts())).tags
        if tag == "audio"
    ]
    assert sources == [
        "letters-2026-11-25.mp3#t=189.0,196.8",
        "letters-2026-11-25.mp3#t=697.0,703.4",
        "letters-2026-11-25.mp3#t=1322.0,1327.2",
        "letters-2026-11-25.mp3#t=1874.0,1885.5",
        "letters-2026-11-25.mp3",
    ]


def test_a_title_in_another_language_is_marked() -> None:
    facts = dataclasses.replace(report_facts(), language="cs")
    page = report_html(facts)
    assert '<html lang="en-GB">' in page
    assert '<h1 lang="cs">' in page
    assert '<cite lang="cs">' in page


@settings(max_examples=40, deadline=None)
@given(st.text(st.characters(codec="utf-8"), max_size=60))
def test_no_text_gets_out_of_its_place(text: str) -> None:
    plain, facts = Read(report_html(report_facts())), report_facts()
    text = f"<script>&\"'</style>{text}"
    changed = dataclasses.replace(
        facts,
        title=text,
        publication=text,
        readers=(text, text),
        grounds=(Ground(text=text, weight="ear"), Ground(text=text, weight="ear")),
        figures=tuple(
            dataclasses.replace(figure, name=text, unit=text, target=text)
            for figure in facts.figures
        ),
        findings=tuple(
            dataclasses.replace(finding, advice=text, unit=text) for finding in facts.findings
        ),
        chapters=tuple(dataclasses.replace(chapter, title=text) for chapter in facts.chapters),
        pictures=RepairPictures(
            shown=tuple(
                dataclasses.replace(picture, sentence=text) for picture in facts.pictures.shown
            ),
            repairs=1,
        ),
        done=tuple(Deed(text=text, reason=text) for _ in facts.done),
        files=tuple(ReportFile(name=text, what=text, size_bytes=1) for _ in facts.files),
        player=text,
        source=text,
        made_by=text,
        language=text,
    )
    read = Read(report_html(changed))
    # Apart from a language that is now told, the page has the tags that it had.
    assert [tag for tag, _ in read.tags if tag != "span"] == [
        tag for tag, _ in plain.tags if tag != "span"
    ]
    addresses = [one for one in read.addresses() if one not in plain.addresses()]
    assert not any(re.search(r"[:/<>\"'&]", place.split("#")[0]) for place in addresses)
    assert [one for one in read.addresses() if one.startswith("data:")] == [
        one for one in plain.addresses() if one.startswith("data:")
    ]


def test_a_name_that_is_no_text_still_leads_to_its_file() -> None:
    # A file system's names are bytes; Python carries a stray one as a lone surrogate.
    facts = dataclasses.replace(report_facts(), player="caf\udce9.mp3")
    assert 'src="caf%E9.mp3"' in report_html(facts)


def test_style_is_not_escaped_and_carries_the_faces() -> None:
    page = report_html(report_facts(), (FontFace(family="EB Garamond", weight=400, woff2=b"abc"),))
    assert 'src:url("data:font/woff2;base64,YWJj") format("woff2")' in page


def test_faces_stay_small() -> None:
    assert sum(len(face.woff2) for face in report_faces()) < 60_000


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_by_values_of_the_standard() -> None:
    # Standards 8.4: black on white 21; #767676 on white 4.54, #777777 4.48.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("tokens", [LIGHT, DARK, LIGHT_CONTRAST, DARK_CONTRAST])
def test_every_pair_of_colours_can_be_read(tokens: dict[str, str]) -> None:
    for text in ("ink", "soft-ink", "accent"):
        assert contrast(tokens[text], tokens["paper"]) >= 4.5
    # The line of the picture runs over the band, and rules are seen on paper.
    assert contrast(tokens["ink"], tokens["wash"]) >= 4.5
    assert contrast(tokens["rule"], tokens["paper"]) >= 3.0
    assert contrast(tokens["rule"], tokens["wash"]) >= 3.0


@pytest.mark.parametrize("tokens", [LIGHT_CONTRAST, DARK_CONTRAST])
def test_more_contrast_is_more(tokens: dict[str, str]) -> None:
    for text in ("ink", "soft-ink", "accent"):
        assert contrast(tokens[text], tokens["paper"]) >= 7.0


def test_window_that_is_missed() -> None:
    facts = dataclasses.replace(
        report_facts(), duration_s=3480.4, window=Window(shortest_s=3360.0, longest_s=3480.0)
    )
    assert "58 min 00 long: 1 second too long for its window of 56:00 to 58:00." in told(facts)


def test_figure_keeps_its_decimals() -> None:
    figure = Figure(name="DC", unit="", before=0.00081, after=0.0, decimals=4)
    facts = dataclasses.replace(report_facts(), figures=(figure,))
    assert "0.0008" in told(facts)


def test_chapters_are_shown_by_time() -> None:
    chapter = Chapter(title="A & B", start_s=3661.5, end_s=4000.0)
    page = report_html(dataclasses.replace(report_facts(), chapters=(chapter,)))
    assert '<a href="letters-2026-11-25.mp3#t=3661.5">1:01:01</a>' in page
    assert "A &amp; B" in page
