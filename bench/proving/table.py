"""Runs sessions through the hearing and sets what was scored as a table."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.proving.labels import FAULTS
from bench.proving.pieces import Pieces
from bench.proving.scores import ANY_NOISE_ROW, FIX_ROW, Found, Score, SessionScore, score
from bench.proving.session import Session, make_session
from bench.proving.shaping import Samples
from bench.proving.suites import Planned
from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear

PRECISION_ASKED = 0.97
_BLOCK_S = 20
_RESTART_ROWS = ("restart warped", "  fix alone warped", "restart true", "  fix alone true")

Hear = Callable[[Samples, int], Sequence[Found]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What one session scored."""

    plan: Planned
    score: SessionScore


def heard_in(samples: Samples, sample_rate_hz: int) -> tuple[Finding, ...]:
    """Hear samples, shape (n,), as a recording is heard."""
    size = _BLOCK_S * sample_rate_hz
    blocks = (samples[at : at + size, np.newaxis] for at in range(0, samples.size, size))
    return hear(blocks, sample_rate_hz, 1).findings


def judge(
    pieces: Pieces,
    plans: Iterable[Planned],
    length_s: float,
    sample_rate_hz: int | None = None,
    heard: Hear = heard_in,
) -> Iterator[Judged]:
    """Make, hear and score sessions one by one."""
    for plan in plans:
        session = make_session(
            pieces,
            plan.seed,
            voice=plan.voice,
            length_s=length_s,
            mess=plan.mess,
            sample_rate_hz=sample_rate_hz,
        )
        yield Judged(plan=plan, score=_scored(plan, session, heard))


def suite_lines(suite: str, judged: Sequence[Judged]) -> list[str]:
    """Set one suite: kinds in all and the least voice, then a line for each row."""
    whole = _total(one.score for one in judged)
    rows: dict[str, SessionScore] = {}
    for one in judged:
        name = one.plan.row
        rows[name] = rows[name] + one.score if name in rows else one.score
    lines = [
        f"{suite}: {len(judged)} sessions, {whole.length_s / 3600:.2f} h;"
        f" false findings {whole.wrong_an_hour:.1f} an hour"
    ]
    lines += _kind_lines(whole, rows)
    lines += _sort_lines(whole)
    lines += _row_lines(rows)
    return lines


def wrong_lines(judged: Sequence[Judged]) -> list[str]:
    """List what was found wrongly, and what lies there."""
    return [
        f"    {one.plan.suite} {one.plan.row} seed {one.plan.seed}: {found.kind}"
        f" {found.start_s:.2f}-{found.end_s:.2f} s ({there})"
        for one in judged
        for found, there in one.score.wrong
    ]


def disfluent_lines(pieces: Pieces, heard: Hear = heard_in) -> list[str]:
    """List what is found in real readings: hesitant ones, and unedited takes."""
    lines = []
    for clip in (*pieces.takes, *pieces.disfluent):
        found = [one for one in heard(clip.samples, clip.sample_rate_hz) if one.severity != "note"]
        told = "; ".join(
            f"{one.kind} {one.start_s:.1f}-{one.end_s:.1f} ({one.severity})" for one in found
        )
        text = (clip.text or "")[:60]
        length_s = clip.samples.size / clip.sample_rate_hz
        lines.append(f"  {clip.name:<26}{length_s:6.1f} s  {told or '-'}  | {text}")
    return ["real readings, times of stumbles not known:", *lines] if lines else []


def _scored(plan: Planned, session: Session, heard: Hear) -> SessionScore:
    found = heard(session.samples, session.sample_rate_hz)
    scored = score(session.labels, found, length_s=session.length_s)
    # Warped and true are told apart everywhere: the one says nothing of the other.
    rows = dict(scored.rows)
    if plan.mess.restarts:
        rows[f"restart {plan.mess.how}"] = rows["restart"]
        rows[f"  fix alone {plan.mess.how}"] = rows[FIX_ROW]
    return SessionScore(
        length_s=scored.length_s, rows=rows, by_sort=scored.by_sort, wrong=scored.wrong
    )


def _kind_lines(whole: SessionScore, rows: Mapping[str, SessionScore]) -> list[str]:
    lines = [
        f"  {'kind':<20}{'n':>5}{'recall':>8}{'prec.':>7}{'F1':>6}{'false/h':>9}   least row (F1)"
    ]
    for kind in (*FAULTS, ANY_NOISE_ROW, *_RESTART_ROWS):
        row = whole.rows.get(kind, Score())
        if not row.labels and not row.findings:
            continue
        each = {name: one.rows.get(kind, Score()).f1 for name, one in rows.items()}
        known = {name: f1 for name, f1 in each.items() if f1 is not None}
        least = min(known, key=lambda name: known[name]) if known else None
        lines.append(
            f"  {kind:<20}{row.labels:5}{_share(row.recall):>8}{_share(row.precision):>7}"
            f"{_share(row.f1):>6}{row.wrong * 3600 / whole.length_s:9.1f}"
            f"   {f'{least} {known[least]:.2f}' if least else '-'}"
        )
        if kind in _RESTART_ROWS and row.edges_s:
            lines.append(_edge_line(row))
    return lines


def _edge_line(row: Score) -> str:
    at = row.recall_at(PRECISION_ASKED)
    told = f"recall {at[0]:.2f} at value {at[1]:.2f}" if at else "not reached"
    outside = f"median {row.edge_s(50.0):.2f} s, 90 % {row.edge_s(90.0):.2f} s"
    return f"    ends outside the pause: {outside}; precision {PRECISION_ASKED}: {told}"


def _sort_lines(whole: SessionScore) -> list[str]:
    told = [f"{name} {row.found}/{row.labels}" for name, row in sorted(whole.by_sort.items())]
    return [f"  found of each sort: {', '.join(told)}"] if told else []


def _row_lines(rows: Mapping[str, SessionScore]) -> list[str]:
    lines = [f"  {'row':<16}{'any noise F1':>13}{'restart R/P':>14}{'false/h':>9}"]
    for name, one in rows.items():
        restart = one.rows["restart"]
        both = f"{_share(restart.recall)}/{_share(restart.precision)}"
        lines.append(
            f"  {name:<16}{_share(one.rows[ANY_NOISE_ROW].f1):>13}{both:>14}"
            f"{one.wrong_an_hour:9.1f}"
        )
    return lines


def _total(scores: Iterable[SessionScore]) -> SessionScore:
    total = SessionScore(length_s=0.0, rows={})
    for one in scores:
        total += one
    return total


def _share(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"
