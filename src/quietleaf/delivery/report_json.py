"""The facts of a report as plain JSON values, and back: what a page shows without the report."""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

import numpy as np

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import NO_PICTURES, RepairPicture, RepairPictures
from quietleaf.delivery.report import Deed, Figure, ReportFacts, ReportFile
from quietleaf.errors import Damaged
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve
from quietleaf.listening.verdict import WEIGHTS_BEFORE, Ground
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.units import Window, db_of_power

SCHEMA = "quietleaf/report/2"
BEFORE_GROUNDS = "quietleaf/report/1"
"""Had a verdict and reasons in their place."""

_PLAIN = (
    "title",
    "publication",
    "review",
    "convention",
    "duration_s",
    "duration_before_s",
    "target_lufs",
    "tolerance_lu",
    "ceiling_dbtp",
    "player",
    "source",
    "made_by",
    "language",
)

_PNGS = ("before_png", "after_png")


def report_to_json(facts: ReportFacts) -> dict[str, Any]:
    """Write a report's facts as JSON values.

    A curve's powers become decibels to two places; the null among them is silence.
    """
    return {
        "schema": SCHEMA,
        **{name: getattr(facts, name) for name in _PLAIN},
        "issue_date": None if facts.issue_date is None else facts.issue_date.isoformat(),
        "readers": list(facts.readers),
        "grounds": [asdict(ground) for ground in facts.grounds],
        "window_s": None
        if facts.window is None
        else [facts.window.shortest_s, facts.window.longest_s],
        "figures": [asdict(figure) for figure in facts.figures],
        "before_db": _powers_to_json(facts.before),
        "after_db": _powers_to_json(facts.after),
        "findings": [asdict(finding) for finding in facts.findings],
        "chapters": [asdict(chapter) for chapter in facts.chapters],
        "done": [asdict(deed) for deed in facts.done],
        "pictures": {
            "repairs": facts.pictures.repairs,
            "shown": [_picture_to_json(picture) for picture in facts.pictures.shown],
        },
        "files": [asdict(file) for file in facts.files],
        "made_at": facts.made_at.isoformat(),
    }


def report_from_json(values: Mapping[str, Any]) -> ReportFacts:
    """Read a report's facts back.

    Raises
    ------
    Damaged
        If they are not what `report_to_json` writes.
    """
    try:
        if values["schema"] == BEFORE_GROUNDS:
            values = {**values, "review": USUAL_REVIEW, "grounds": _grounds_before(values)}
        elif values["schema"] != SCHEMA:
            raise ValueError(values["schema"])
        window = values["window_s"]
        return ReportFacts(
            **{name: values[name] for name in _PLAIN},
            issue_date=None
            if values["issue_date"] is None
            else date.fromisoformat(values["issue_date"]),
            readers=tuple(values["readers"]),
            grounds=tuple(Ground(**ground) for ground in values["grounds"]),
            window=None if window is None else Window(shortest_s=window[0], longest_s=window[1]),
            figures=tuple(Figure(**figure) for figure in values["figures"]),
            before=_curve_of_json(values["before_db"]),
            after=_curve_of_json(values["after_db"]),
            findings=tuple(Finding(**finding) for finding in values["findings"]),
            chapters=tuple(Chapter(**chapter) for chapter in values["chapters"]),
            done=tuple(Deed(**deed) for deed in values["done"]),
            # What was written before there were pictures has none.
            pictures=_pictures_of_json(values["pictures"]) if "pictures" in values else NO_PICTURES,
            files=tuple(ReportFile(**file) for file in values["files"]),
            made_at=datetime.fromisoformat(values["made_at"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise Damaged(
            "report/json",
            "The facts of this report are not as they were written. Finish the reading again.",
        ) from fault


def _grounds_before(values: Mapping[str, Any]) -> list[dict[str, str]]:
    return [
        {"text": text, "weight": weight}
        for weight in WEIGHTS_BEFORE[values["verdict"]]
        for text in values["reasons"]
    ]


def _picture_to_json(picture: RepairPicture) -> dict[str, Any]:
    pngs = {name: getattr(picture, name) for name in _PNGS}
    return asdict(picture) | {name: b64encode(png).decode("ascii") for name, png in pngs.items()}


def _pictures_of_json(values: Mapping[str, Any]) -> RepairPictures:
    return RepairPictures(
        shown=tuple(
            RepairPicture(**picture | {name: b64decode(picture[name]) for name in _PNGS})
            for picture in values["shown"]
        ),
        repairs=values["repairs"],
    )


def _powers_to_json(curve: Curve) -> list[float | None]:
    return [
        None if power <= 0.0 else round(db_of_power(power), 2) for power in curve.power.tolist()
    ]


def _curve_of_json(levels: list[float | None]) -> Curve:
    decibels = np.array([-np.inf if level is None else level for level in levels], dtype=np.float64)
    return Curve(power=10.0 ** (decibels / 10.0))
