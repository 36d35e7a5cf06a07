"""What a report says of a finished programme: numbers against the target, deeds, reasons."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import RepairPictures
from quietleaf.delivery.report import Convention, Deed, Figure, ReportFacts, ReportFile
from quietleaf.finishing.assembly import master_place
from quietleaf.finishing.plan import RATE_HZ, Plan, Sentence
from quietleaf.finishing.targets import Target
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.verdict import Ground, grounds_of
from quietleaf.listening.words_check import WordsCheck, grounds_of_words
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.units import clock, samples_of_s
from quietleaf.work.finish_repairs import (
    deeds_of_repairs,
    deeds_of_repairs_heard,
    is_done_with,
)
from quietleaf.work.finish_sound import TOLERANCE_LU, MadeMaster
from quietleaf.work.fit_report import deeds_of_fit

_POWER_OF_TWO_SPEAKERS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the programme is, as a report names it.

    Attributes
    ----------
    source : str
        Where the sound came from, in words.
    remarks : tuple of Deed
        What was done before the plan: a channel chosen, a file that ends early.
    review : {"none", "things to hear", "whole"}
        The programme's; the usual one where there is no programme.
    """

    title: str
    publication: str
    issue_date: date | None
    readers: tuple[str, ...]
    source: str
    remarks: tuple[Deed, ...]
    review: ReviewDepth = USUAL_REVIEW


def facts_of_report(
    made: MadeMaster,
    about: About,
    words: WordsCheck,
    chapters: tuple[Chapter, ...],
    files: tuple[ReportFile, ...],
    more_figures: tuple[Figure, ...],
    pictures: RepairPictures,
    player: str,
    made_at: datetime,
    made_by: str,
) -> ReportFacts:
    """Gather everything that the report of a master says."""
    plan, target = made.plan, made.plan.target
    figures = (*_figures(made), *more_figures)
    findings = findings_of_master(made)
    return ReportFacts(
        title=about.title,
        publication=about.publication,
        issue_date=about.issue_date,
        readers=about.readers,
        grounds=(*_grounds(made, findings, figures), *grounds_of_words(words)),
        review=about.review,
        figures=figures,
        convention=_convention(target),
        duration_s=plan.fit.length_s,
        duration_before_s=made.before.duration_s,
        window=plan.fit.window,
        target_lufs=target.loudness_lufs,
        tolerance_lu=TOLERANCE_LU,
        ceiling_dbtp=target.ceiling_dbtp,
        before=_counted_curve(target, made.before.curve),
        after=_counted_curve(target, made.wave_heard.curve),
        findings=findings,
        chapters=chapters,
        done=(
            *about.remarks,
            *deeds_of_plan(plan),
            *deeds_of_repairs_heard(plan.layout, made.wave_heard.findings),
            *_deeds_of_joins(made),
        ),
        pictures=pictures,
        files=files,
        player=player,
        source=about.source,
        made_at=made_at,
        made_by=made_by,
    )


def deeds_of_plan(plan: Plan) -> tuple[Deed, ...]:
    """Say in plain words what a plan does, in the order in which it is done."""
    layout = plan.layout
    deeds = [
        Deed(text=_cut_words(cut.start, cut.stop), reason=cut.reason)
        for cut in layout.cuts
        if cut.state == "made"
    ]
    deeds += deeds_of_repairs(layout)
    deeds += [
        Deed(text=f"{tone.samples / RATE_HZ:.2f} s of room tone laid", reason=tone.reason)
        for tone in layout.room_tone
    ]
    deeds.append(
        Deed(text=f"High-pass at {layout.high_pass.corner_hz:g} Hz", reason=layout.high_pass.reason)
    )
    deeds += [
        Deed(
            text=f"Colour of the voice from {clock(colour.start / RATE_HZ)} to "
            f"{clock(colour.stop / RATE_HZ)} matched to the rest",
            reason=f"{colour.reason}; a gentle filter, "
            f"{min(colour.bands_db):+.1f} to {max(colour.bands_db):+.1f} dB",
        )
        for colour in layout.colours
    ]
    deeds.append(_evening(layout.sentences))
    deeds += deeds_of_fit(plan)
    if layout.fills:
        joins = len({fill.seed // 2 for fill in layout.fills})
        deeds.append(
            Deed(
                text=f"Noise of the room added at {joins} join{'s' * (joins > 1)}",
                reason="the room is quieter on one side than on the other: "
                f"{layout.fills[0].reason}{', and others' * (joins > 1)}",
            )
        )
    deeds.append(
        Deed(text=f"Gain of {plan.wave.gain_db:+.1f} dB and limiter", reason=plan.wave.reason)
    )
    dips = len(plan.mp3.dips)
    dipped = f", and {dips} place{'s' * (dips > 1)} turned down for it" if dips else ""
    deeds.append(
        Deed(
            text=f"MP3 of {plan.mp3.kbps} kbit/s, given {plan.mp3.encoder_gain_db:.2f} dB more "
            f"than the wave file{dipped}",
            reason=plan.mp3.drive.reason,
        )
    )
    return tuple(deeds)


def _deeds_of_joins(made: MadeMaster) -> tuple[Deed, ...]:
    """Say how many joins there are, and whether any can be heard."""
    count = len(made.joins)
    if count == 0:
        return ()
    shown = len({one.start_s for one in made.at_joins if one.severity != "note"})
    matched = "" if made.plan.layout.colours else "; the voice needed no filter"
    matched += "" if made.plan.layout.fills else "; the room needed none of its noise added"
    told = f"{shown} may be heard" if shown else "none can be heard"
    return (
        Deed(
            text=f"{count} join{'s' * (count > 1)} listened to: {told}",
            reason=f"held against what this reader and this room do by themselves{matched}",
        ),
    )


def _figures(made: MadeMaster) -> tuple[Figure, ...]:
    target = made.plan.target
    before, after, mp3 = made.before, made.wave_heard, made.mp3_heard
    wanted = f"{target.loudness_lufs:.1f} ± {TOLERANCE_LU:.1f}"
    ceiling = f"at most {target.ceiling_dbtp:.1f}"

    def loudness(name: str, was: float | None, is_now: float | None, aimed: bool) -> Figure:
        counted = _counted(target, is_now)
        return Figure(
            name=name,
            unit="LUFS",
            before=_counted(target, was),
            after=counted,
            target=wanted if aimed else "",
            met=_near(counted, target.loudness_lufs) if aimed else None,
        )

    def peak(name: str, was: float | None, is_now: float | None) -> Figure:
        met = is_now is not None and is_now <= target.ceiling_dbtp
        return Figure(name=name, unit="dBTP", before=was, after=is_now, target=ceiling, met=met)

    return (
        loudness("Loudness", before.loudness.integrated_lufs, after.loudness.integrated_lufs, True),
        peak("True peak", before.peak.true_dbtp, after.peak.true_dbtp),
        loudness("Loudness of the MP3", None, mp3.loudness.integrated_lufs, True),
        peak("True peak of the MP3", None, mp3.peak.true_dbtp),
        Figure(
            name="Loudness range",
            unit="LU",
            before=before.loudness.range_lu,
            after=after.loudness.range_lu,
        ),
        loudness(
            "Loudest 3 s",
            before.loudness.short_term_max_lufs,
            after.loudness.short_term_max_lufs,
            False,
        ),
        loudness(
            "Loudest 0.4 s",
            before.loudness.momentary_max_lufs,
            after.loudness.momentary_max_lufs,
            False,
        ),
        Figure(
            name="Speech level",
            unit="dBov",
            before=before.level.active_speech_dbov,
            after=after.level.active_speech_dbov,
        ),
        Figure(
            name="Room tone",
            unit="dBov",
            before=before.level.noise_floor_dbov,
            after=after.level.noise_floor_dbov,
        ),
    )


def findings_of_master(made: MadeMaster) -> tuple[Finding, ...]:
    """Gather what is to be heard in the master.

    That is what was heard in it, and what was heard in the sound as it came, at its place in the
    master: gain and limiter round off a clipped word so that no measurement finds it any more,
    but an ear does. What was repaired, or cut out, counts only if it is heard again. Long silences
    are looked for in the master alone, since the plan shortens them.
    """
    layout, found = made.plan.layout, list(made.wave_heard.findings)
    for came in made.before.findings:
        if is_done_with(layout, came):
            continue
        start_s, end_s = (
            master_place(layout, samples_of_s(time_s, RATE_HZ)) / RATE_HZ
            for time_s in (came.start_s, came.end_s)
        )
        again = any(
            same.kind == came.kind and same.start_s <= end_s and same.end_s >= start_s
            for same in made.wave_heard.findings
        )
        if came.kind != "dead-air" and end_s > start_s and not again:
            found.append(replace(came, start_s=start_s, end_s=end_s))
    found += made.at_joins
    return tuple(sorted(found, key=lambda finding: finding.start_s))


def _grounds(
    made: MadeMaster, findings: tuple[Finding, ...], figures: Iterable[Figure]
) -> tuple[Ground, ...]:
    """Gather what speaks against the master; one outside its window or target does not go out."""
    heard, fit = made.wave_heard, made.plan.fit
    grounds = grounds_of(
        heard.level, heard.spoken_s, heard.duration_s, list(findings), HEARING_LIMITS
    )
    stop: list[str] = []
    if fit.verdict in ("short", "long"):
        by = clock(abs(fit.difference_s))
        exact = fit.window is None or fit.window.shortest_s == fit.window.longest_s
        wanted = "what was asked for" if exact else f"its window of {fit.window}"
        stop.append(f"It is {by} too {fit.verdict} for {wanted}.")
    missed = [figure.name for figure in figures if figure.met is False]
    if missed:
        stop.append(f"Not as asked for: {', '.join(missed)}.")
    return (*grounds, *(Ground(text=text, weight="stop") for text in stop))


def _evening(sentences: tuple[Sentence, ...]) -> Deed:
    moved = [one.gain_db for one in sentences if one.gain_db != 0.0]
    if not moved:
        return Deed(text="Voice left as it is", reason="its sentences are even enough")
    return Deed(
        text=f"{len(moved)} of {len(sentences)} sentences turned up or down, by "
        f"{min(moved):+.1f} to {max(moved):+.1f} dB",
        reason="one constant gain a sentence, moved inside the pauses; nothing pumps",
    )


def _cut_words(start: int, stop: int) -> str:
    length_s = (stop - start) / RATE_HZ
    return f"{length_s:.2f} s cut at {clock(start / RATE_HZ)}"


def _convention(target: Target) -> Convention:
    return "dual mono" if target.dual_mono else "one channel"


def _counted(target: Target, one_channel_lufs: float | None) -> float | None:
    return None if one_channel_lufs is None else target.counted_lufs(one_channel_lufs)


def _near(value: float | None, wanted: float) -> bool:
    return value is not None and abs(value - wanted) <= TOLERANCE_LU


def _counted_curve(target: Target, curve: Curve) -> Curve:
    return Curve(power=curve.power * _POWER_OF_TWO_SPEAKERS) if target.dual_mono else curve


def things_to_hear(findings: Iterable[Finding]) -> int:
    """Count the findings that ask for a person."""
    return sum(finding.severity != "note" for finding in findings)
