"""Findings against what is known of a session: what was found, what was found wrongly.

Findings of every severity are held against labels; false findings an hour are those that ask for
somebody, `fix` and `hear`. Labels of one kind, and findings of one kind,
that lie within `MERGED_S` are one. A finding is right if it overlaps a label of its kind within
`NEAR_S`; a false start has rules of its own. What is neither right nor wrong is open: it counts
nowhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from bench.proving.labels import ANY_NOISE, FAULTS, Label, of_kind

NEAR_S = 0.3
MERGED_S = 0.35
EARLY_S, LATE_S = 0.6, 0.1
"""A cut begins from so long before the pause before the attempt to so long after its onset, and
ends likewise at what is read again."""
ANY_NOISE_ROW = "any noise"
FIX_ROW = "restart fix"
"""Cuts that are proposed, without those that somebody should only listen to."""
DEAD_AIR_OPEN_S, DEAD_AIR_NOTED_S = 3.0, 2.0
"""A pause of this length that is not told as dead air may be found as such; one of that, noted:
words die away before it, and a breath ends it, so it reads longer than what lies between clips."""
_WHOLE = 0.5
_ASKING = ("fix", "hear")
_OPEN_BESIDE = {"hum": ("noise", "hum-own"), "noise": ("hum",), "echo": ("room",)}
"""Findings of a kind that are open over labels of other kinds: a fan has lines of the mains, hum is
a noise; a room is a room; some recordings hum by themselves."""

Span = tuple[float, float]


class Found(Protocol):
    """What a finding must tell: `Finding` does."""

    @property
    def kind(self) -> str: ...
    @property
    def start_s(self) -> float: ...
    @property
    def end_s(self) -> float: ...
    @property
    def severity(self) -> str: ...
    @property
    def value(self) -> float | None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A finding, with nothing that is not scored."""

    kind: str
    start_s: float
    end_s: float
    severity: str = "hear"
    value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Counts of one row, which add up over sessions.

    Attributes
    ----------
    labels, found : int
        Faults there are, and those that were found.
    findings, right : int
        Findings that count, and those that are right.
    edges_s : tuple of float
        Of right cuts: how far each end lies outside its pause.
    values : tuple of (value, faults)
        Of each finding of a false start that has a value: how many faults it finds; 0: it is wrong.
    """

    labels: int = 0
    found: int = 0
    findings: int = 0
    right: int = 0
    edges_s: tuple[float, ...] = ()
    values: tuple[tuple[float, int], ...] = ()

    def __add__(self, other: Score) -> Score:
        return Score(
            labels=self.labels + other.labels,
            found=self.found + other.found,
            findings=self.findings + other.findings,
            right=self.right + other.right,
            edges_s=self.edges_s + other.edges_s,
            values=self.values + other.values,
        )

    @property
    def wrong(self) -> int:
        """Findings that are not right."""
        return self.findings - self.right

    @property
    def recall(self) -> float | None:
        """Share of faults that were found; None where there is none."""
        return self.found / self.labels if self.labels else None

    @property
    def precision(self) -> float | None:
        """Share of findings that are right; None where there is none."""
        return self.right / self.findings if self.findings else None

    @property
    def f1(self) -> float | None:
        """Harmonic mean of recall and precision; None where nothing was to be found or found."""
        if not self.labels:
            return None
        if not self.found or not self.right:
            return 0.0
        recall, precision = self.found / self.labels, self.right / self.findings
        return 2.0 * recall * precision / (recall + precision)

    def edge_s(self, percentile: float) -> float | None:
        """Give a percentile of the errors of edges."""
        return float(np.percentile(self.edges_s, percentile)) if self.edges_s else None

    def recall_at(self, precision: float) -> tuple[float, float] | None:
        """Give the greatest recall at a precision, and the least value that is taken for it."""
        best: tuple[float, float] | None = None
        right = found = 0
        ordered = sorted(self.values, reverse=True)
        for index, (value, faults) in enumerate(ordered):
            right += faults > 0
            found += faults
            tied = index + 1 < len(ordered) and ordered[index + 1][0] == value
            if not tied and self.labels and right / (index + 1) >= precision:
                best = (found / self.labels, value)
        return best


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionScore:
    """Rows by kind, with `any noise` and, of level steps and dropouts, what was found of each sort.

    Attributes
    ----------
    by_sort : mapping of "kind what" to Score
        Recall alone: a finding does not say what sort it is.
    wrong : tuple of (finding, what is there)
    """

    length_s: float
    rows: Mapping[str, Score]
    by_sort: Mapping[str, Score] = field(default_factory=dict)
    wrong: tuple[tuple[Found, str], ...] = ()

    def __add__(self, other: SessionScore) -> SessionScore:
        return SessionScore(
            length_s=self.length_s + other.length_s,
            rows=_summed(self.rows, other.rows),
            by_sort=_summed(self.by_sort, other.by_sort),
            wrong=self.wrong + other.wrong,
        )

    @property
    def wrong_an_hour(self) -> float:
        """False findings of any kind that ask for somebody, an hour."""
        wrong = sum(one.severity in _ASKING for one, _ in self.wrong)
        return wrong * 3600.0 / self.length_s if self.length_s else 0.0


def score(labels: Sequence[Label], findings: Sequence[Found], *, length_s: float) -> SessionScore:
    """Hold findings against labels, kind by kind."""
    rows: dict[str, Score] = {}
    by_sort: dict[str, Score] = {}
    wrong: list[tuple[Found, str]] = []
    for kind in FAULTS:
        if kind == "restart":
            rows[kind], mistaken = score_restarts(labels, findings)
        else:
            rows[kind], mistaken = _score_kinds(labels, findings, (kind,), length_s)
        wrong += [(one, _beneath(labels, one)) for one in mistaken]
    fixes = [one for one in findings if one.severity == "fix"]
    rows[FIX_ROW], _ = score_restarts(labels, fixes)
    rows[ANY_NOISE_ROW], _ = _score_kinds(labels, findings, ANY_NOISE, length_s)
    for kind in ("level-step", "dropout"):
        spans = [(one.start_s, one.end_s) for one in findings if one.kind == kind]
        for label in of_kind(labels, kind):
            name = f"{kind} {label.detail.get('what', '')}".strip()
            found = any(_near((label.start_s, label.end_s), span) for span in spans)
            by_sort[name] = by_sort.get(name, Score()) + Score(labels=1, found=int(found))
    return SessionScore(length_s=length_s, rows=rows, by_sort=by_sort, wrong=tuple(wrong))


def score_restarts(labels: Sequence[Label], findings: Sequence[Found]) -> tuple[Score, list[Found]]:
    """Hold proposed cuts against false starts; give those that are wrong too.

    A cut may take one try or several of a chain: its ends must lie at the pauses before two of
    the tries, or before the last of them and before what is read again.
    """
    chains: dict[object, list[Label]] = {}
    for label in of_kind(labels, "restart"):
        chains.setdefault(label.detail["chain"], []).append(label)
    found: set[tuple[object, int]] = set()
    edges_s: list[float] = []
    values: list[tuple[float, int]] = []
    wrong: list[Found] = []
    proposed = [one for one in findings if one.kind == "restart"]
    for one in proposed:
        match = next(
            (hit for name, tries in chains.items() if (hit := _cut(name, tries, one))), None
        )
        if match is None:
            wrong.append(one)
        else:
            name, covered, errors_s = match
            found |= {(name, index) for index in covered}
            edges_s += errors_s
        if one.value is not None:
            values.append((one.value, len(match[1]) if match else 0))
    counts = Score(
        labels=sum(len(tries) for tries in chains.values()),
        found=len(found),
        findings=len(proposed),
        right=len(proposed) - len(wrong),
        edges_s=tuple(edges_s),
        values=tuple(values),
    )
    return counts, wrong


def _cut(
    name: object, tries: Sequence[Label], one: Found
) -> tuple[object, range, list[float]] | None:
    """Say which tries of a chain a cut takes, and how far off its ends are; None if none."""
    pauses: list[Span] = [label.detail["pause_before_s"] for label in tries]
    pauses.append(tries[-1].detail["pause_again_s"])

    def at(time_s: float) -> list[int]:
        return [
            index
            for index, (begun_s, onset_s) in enumerate(pauses)
            if begun_s - EARLY_S <= time_s <= onset_s + LATE_S
        ]

    # Around a short try both may be meant.
    firsts, lasts = at(one.start_s), at(one.end_s)
    if not firsts or not lasts or lasts[-1] <= firsts[0]:
        return None
    first, last = firsts[0], lasts[-1]
    errors_s = [
        max(pauses[index][0] - time_s, time_s - pauses[index][1], 0.0)
        for index, time_s in ((first, one.start_s), (last, one.end_s))
    ]
    return name, range(first, last), errors_s


def _score_kinds(
    labels: Sequence[Label], findings: Sequence[Found], kinds: tuple[str, ...], length_s: float
) -> tuple[Score, list[Found]]:
    asked = [one for one in of_kind(labels, *kinds) if not _is_open(one)]
    whole_s = _WHOLE * length_s
    heard = [one for one in findings if one.kind in kinds]
    if not any(one.end_s - one.start_s > whole_s for one in asked):
        # What is said of the whole recording is not said of a place.
        heard = [one for one in heard if one.end_s - one.start_s <= whole_s]
    truth = _merged([(one.start_s, one.end_s) for one in asked])
    spans = _merged([(one.start_s, one.end_s) for one in heard])
    asking = [any(_asks(one, *span) for one in heard) for span in spans]
    right = [any(_near(known, span) for known in truth) for span in spans]
    open_spans = {asks: _open_spans(labels, kinds, asking=asks) for asks in (False, True)}
    is_open = [
        not good and any(_near(known, span) for known in open_spans[asks])
        for span, good, asks in zip(spans, right, asking, strict=True)
    ]
    found = sum(any(_near(known, span) for span in spans) for known in truth)
    kind = kinds[0] if len(kinds) == 1 else ANY_NOISE_ROW
    wrong: list[Found] = [
        Heard(
            kind=kind,
            start_s=start_s,
            end_s=end_s,
            severity="hear" if asks else "note",
        )
        for (start_s, end_s), good, opened, asks in zip(spans, right, is_open, asking, strict=True)
        if not good and not opened
    ]
    return Score(
        labels=len(truth), found=found, findings=sum(right) + len(wrong), right=sum(right)
    ), wrong


def _asks(one: Found, start_s: float, end_s: float) -> bool:
    return one.severity in _ASKING and start_s <= one.start_s <= end_s


def _is_open(label: Label) -> bool:
    """Steps of tone or floor alone are asked for by nobody, but may be found."""
    return label.kind == "level-step" and label.detail.get("what") in ("tone", "floor")


def _open_spans(labels: Sequence[Label], kinds: tuple[str, ...], *, asking: bool) -> list[Span]:
    spans = [(one.start_s, one.end_s) for one in of_kind(labels, *kinds) if _is_open(one)]
    for kind in kinds:
        spans += [
            (one.start_s, one.end_s)
            for one in of_kind(labels, *_OPEN_BESIDE.get(kind, ()))
            if kind == "echo" or "bed" in one.detail
        ]
    if "dead-air" in kinds:
        spans += [
            (one.start_s, one.end_s)
            for one in of_kind(labels, "pause")
            if one.end_s - one.start_s >= (DEAD_AIR_OPEN_S if asking else DEAD_AIR_NOTED_S)
        ]
    return spans


def _beneath(labels: Sequence[Label], one: Found) -> str:
    """Say what lies where a wrong finding is: other faults, else what is read."""
    span = (one.start_s, one.end_s)
    there = [label for label in labels if _near((label.start_s, label.end_s), span)]
    kinds = [label.kind for label in there if label.kind not in ("speech", "pause")]
    roles = [label.detail["role"] for label in there if label.kind == "speech"]
    return " ".join(dict.fromkeys([*kinds, *roles])) or "pause"


def _merged(spans: Sequence[Span]) -> list[Span]:
    merged: list[Span] = []
    for start_s, end_s in sorted(spans):
        if merged and start_s - merged[-1][1] <= MERGED_S:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_s))
        else:
            merged.append((start_s, end_s))
    return merged


def _near(known: Span, span: Span) -> bool:
    return known[0] - NEAR_S <= span[1] and span[0] <= known[1] + NEAR_S


def _summed(one: Mapping[str, Score], other: Mapping[str, Score]) -> dict[str, Score]:
    return {
        name: one.get(name, Score()) + other.get(name, Score())
        for name in dict.fromkeys([*one, *other])
    }
