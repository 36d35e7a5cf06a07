"""``quietleaf hear``: listen to recordings and say what was heard."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from quietleaf.cli.progress import progress_line
from quietleaf.errors import Invalid, QuietleafError
from quietleaf.planning.programme import REVIEW_DEPTHS, USUAL_REVIEW, ReviewDepth
from quietleaf.units import clock

if TYPE_CHECKING:
    from quietleaf.listening.findings import Finding
    from quietleaf.listening.hearing import Hearing
    from quietleaf.listening.words_check import PartCheck, WordsCheck
    from quietleaf.planning.words import WordsPart

NOT_MEASURED = "not measured"
LINE_WIDTH = 96


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("files", metavar="FILE", nargs="+", type=Path, help="a recording")
    parser.add_argument("--json", action="store_true", help="one line of JSON for each recording")
    parser.add_argument(
        "--curve",
        metavar="FILE.csv",
        type=Path,
        help="write momentary and short-term loudness over time, a row each 100 ms",
    )
    parser.add_argument(
        "--review",
        metavar="DEPTH",
        choices=[_as_option(depth) for depth in REVIEW_DEPTHS],
        default=_as_option(USUAL_REVIEW),
        help="what somebody hears before it goes out, which the verdict goes by: none, "
        "things-to-hear (the usual one) or whole",
    )
    parser.add_argument("--opening", metavar="TEXT", help="the words that are to be said first")
    parser.add_argument("--closing", metavar="TEXT", help="the words that are to be said last")
    parser.add_argument(
        "--recogniser",
        metavar="FOLDER",
        type=Path,
        help="a recogniser's model, asked what was read twice and how long words are (the setting "
        "QUIETLEAF_RECOGNISER; else the sound alone tells it)",
    )


def run(options: argparse.Namespace) -> int:
    """Hear each file; one that cannot be heard does not keep the others from being heard."""
    import json

    from quietleaf.cli.main import exit_code
    from quietleaf.listening.hearing_json import hearing_to_json
    from quietleaf.listening.limits import HearingLimits
    from quietleaf.listening.words_json import words_to_json
    from quietleaf.settings import read_settings
    from quietleaf.storage.recogniser import open_recogniser
    from quietleaf.work.hear_recording import HearRecording, hear_recording
    from quietleaf.work.hear_words import NO_RECOGNISER

    if options.curve and len(options.files) > 1:
        raise Invalid(
            "hear/curve-of-one",
            f"A curve is that of one recording; {len(options.files)} were named. "
            "Ask for each by itself.",
        )
    settings = read_settings()
    limits = HearingLimits(dead_air_s=settings["dead_air_s"])
    review = next(depth for depth in REVIEW_DEPTHS if _as_option(depth) == options.review)
    check = _words_checker(options.opening, options.closing)
    model = options.recogniser or (settings["recogniser"] and Path(settings["recogniser"]))
    recogniser = open_recogniser(model) if model else None
    if model and recogniser is None:
        print(NO_RECOGNISER, file=sys.stderr)
    first_code = 0
    for path in options.files:
        try:
            with progress_line() as progress:
                request = HearRecording(path=path, limits=limits, review=review)
                hearing = hear_recording(request, progress, recogniser)
                words = check(path) if check else None
            if options.curve:
                write_curve(options.curve, hearing)
        except QuietleafError as refusal:
            print(refusal.sentence, file=sys.stderr)
            first_code = first_code or exit_code(refusal)
            continue
        if options.json:
            line = hearing_to_json(hearing, str(path))
            if model:
                line["recogniser"] = "asked" if recogniser else "not installed"
            if words:
                line["words"] = words_to_json(words)
            print(json.dumps(line, ensure_ascii=False, allow_nan=False), flush=True)
        else:
            print(table(hearing, str(path)), flush=True)
            if words:
                print(words_lines(words), flush=True)
    return first_code


def words_lines(words: WordsCheck) -> str:
    """Set what was found of opening and closing words as lines for a terminal."""
    parts = (("Opening words", words.opening), ("Closing words", words.closing))
    return "\n".join(line for name, part in parts if part for line in _part_lines(name, part))


def table(hearing: Hearing, file: str) -> str:
    """Set a hearing as lines for a terminal."""
    loudness, peak, level = hearing.loudness, hearing.peak, hearing.level
    channels = "one channel" if hearing.channels == 1 else f"{hearing.channels} channels"
    rows = [
        ("Length", f"{clock(hearing.duration_s)}, {hearing.sample_rate_hz} Hz, {channels}"),
        ("Verdict", hearing.verdict),
        *(("", reason) for reason in hearing.reasons),
        ("Loudness", _figure(loudness.integrated_lufs, "LUFS")),
        ("Loudness range", _figure(loudness.range_lu, "LU")),
        ("Momentary, most", _figure(loudness.momentary_max_lufs, "LUFS")),
        ("Short-term, most", _figure(loudness.short_term_max_lufs, "LUFS")),
        ("True peak", _figure(peak.true_dbtp, "dBTP")),
        ("Sample peak", _figure(peak.sample_dbfs, "dBFS")),
        ("Active speech", _figure(level.active_speech_dbov, "dBov")),
        ("Noise floor", _figure(level.noise_floor_dbov, "dBov")),
        ("DC", f"{100.0 * level.dc:+.3f} % of full scale"),
        ("Speech", f"{clock(hearing.spoken_s)}, {hearing.pauses_s.shape[0]} pauses"),
        ("Pace", _pace(hearing)),
        ("Head, tail", _head_and_tail(hearing)),
    ]
    lines = [file, *(f"  {name:<18}{value}" for name, value in rows)]
    notes = [finding for finding in hearing.findings if finding.severity == "note"]
    wanted = [finding for finding in hearing.findings if finding.severity != "note"]
    if wanted:
        lines.append("  Things to hear")
    for finding in wanted:
        lines.append(_line(finding))
        lines += _wrapped(finding.advice, indent=6)
    if notes:
        lines.append("  For the record")
    lines += [_line(finding) for finding in notes]
    return "\n".join(lines)


def write_curve(path: Path, hearing: Hearing) -> None:
    """Write loudness over time as CSV (RFC 4180); an empty field where there is none.

    A file that is there already is replaced as a whole or not at all.
    """
    import math

    from quietleaf.storage.disk import replace_whole

    curve = hearing.curve
    rows = ["time_s,momentary_lufs,short_term_lufs"]
    for time_s, *values in zip(
        curve.time_s, curve.momentary_lufs, curve.short_term_lufs, strict=True
    ):
        fields = (f"{value:.2f}" if math.isfinite(value) else "" for value in values)
        rows.append(f"{time_s:.1f},{','.join(fields)}")
    replace_whole(path, ("\r\n".join(rows) + "\r\n").encode())


def _as_option(depth: ReviewDepth) -> str:
    return depth.replace(" ", "-")


def _words_checker(opening: str | None, closing: str | None) -> Callable[[Path], WordsCheck] | None:
    """Give what checks a recording for the words that were named; None where none were."""
    if opening is None and closing is None:
        return None
    for option, text in (("--opening", opening), ("--closing", closing)):
        if text is not None and not any(letter.isalnum() for letter in text):
            raise Invalid(
                "hear/no-words",
                f"{option} takes the words as they are to be said; {text!r} holds none. "
                "Write them out, or leave it away.",
            )
    from quietleaf.storage.aligner import open_aligner
    from quietleaf.storage.codecs import open_sound
    from quietleaf.work.check_words import SetWords, check_words

    words = SetWords(
        opening=_as_written(opening),
        closing=_as_written(closing),
    )
    aligner = open_aligner()

    def check(path: Path) -> WordsCheck:
        with open_sound(path) as sound:
            return check_words(words, sound, aligner)

    return check


def _as_written(text: str | None) -> tuple[WordsPart, ...]:
    from quietleaf.planning.words import WordsPart

    return () if text is None else (WordsPart(text=text, filled=False),)


def _part_lines(name: str, part: PartCheck) -> list[str]:
    lines = [f"  {name:<18}{part.state}", *_wrapped(part.why_not, indent=6)]
    for finding in part.findings:
        heard = f"heard “{finding.heard}”" if finding.heard else "not heard as written"
        place = f"{clock(finding.start_s)} to {clock(finding.end_s)}"
        lines.append(f"    {place:<18}{finding.kind}, {finding.severity}")
        lines += _wrapped(f"“{finding.expected}”: {heard}", indent=6)
    return lines


def _figure(value: float | None, unit: str) -> str:
    return NOT_MEASURED if value is None else f"{value:.1f} {unit}"


def _pace(hearing: Hearing) -> str:
    words, syllables = hearing.pace.words_per_minute, hearing.pace.syllables_per_minute
    if words is None or syllables is None:
        return "not measured"
    return f"about {words:.0f} words a minute ({syllables:.0f} syllables)"


def _head_and_tail(hearing: Hearing) -> str:
    if not len(hearing.speech_s):
        return NOT_MEASURED
    tail_s = hearing.duration_s - hearing.speech_s[-1, 1]
    return (
        f"{hearing.speech_s[0, 0]:.1f} s before the first syllable, {tail_s:.1f} s after the last"
    )


def _line(finding: Finding) -> str:
    value = "" if finding.value is None else f" ({_amount(finding.value, finding.unit)})"
    place = f"{clock(finding.start_s)} to {clock(finding.end_s)}"
    return f"    {place:<18}{finding.kind}, {finding.severity}{value}"


def _amount(value: float, unit: str) -> str:
    from quietleaf.delivery.report_words import as_said

    value, unit = as_said(value, unit)
    return f"{value:.3g} {unit}"


def _wrapped(text: str, indent: int) -> list[str]:
    from textwrap import wrap

    space = " " * indent
    return wrap(text, width=LINE_WIDTH, initial_indent=space, subsequent_indent=space)
