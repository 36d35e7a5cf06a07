"""Facts of a report with every part in use; programme, people and papers are invented."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import cache

import numpy as np

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.repair_picture import (
    RepairedMoment,
    RepairPicture,
    RepairPictures,
    picture_of_repair,
)
from quietleaf.delivery.report import Deed, Figure, ReportFacts, ReportFile
from quietleaf.delivery.spectrogram import WIDE
from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.hearing import Curve
from quietleaf.listening.verdict import Ground
from quietleaf.units import Window

HOUR_S = 3391.9


def speech_curve(duration_s: float, level_lufs: float, seed: int) -> Curve:
    """Powers that rise and fall like sentences, with pauses, and silence at both ends."""
    rng = np.random.default_rng(seed)
    count = int(duration_s * 10)
    time_s = np.arange(count) / 10
    level = level_lufs + 0.691 + 1.5 * np.sin(time_s / 71) + rng.normal(0.0, 2.0, count)
    start_s = 3.0
    while start_s < duration_s:
        # A sentence of 2 to 7 seconds, then a pause; some pauses are long.
        stop_s = start_s + rng.uniform(2.0, 7.0)
        pause_s = rng.uniform(0.3, 1.0) if rng.random() < 0.97 else rng.uniform(3.0, 9.0)
        level[int(stop_s * 10) : int((stop_s + pause_s) * 10)] = level_lufs - 40.0
        start_s = stop_s + pause_s
    power = 10.0 ** (level / 10.0)
    power[:8] = power[-8:] = 0.0
    return Curve(power=power)


def finding(
    kind: FindingKind, start_s: float, length_s: float, severity: Severity, advice: str
) -> Finding:
    """A thing to hear with a level beside its limit."""
    return Finding(
        kind=kind,
        start_s=start_s,
        end_s=start_s + length_s,
        severity=severity,
        value=-20.1,
        limit=-26.0,
        unit="dBov",
        advice=advice,
    )


@cache
def noise_picture() -> RepairPicture:
    """A tone under everything, and a tenth of a second of noise that goes: 1.5 s."""
    count = 72_000 + WIDE.window_samples
    after = 0.1 * np.sin(2.0 * np.pi * 1_050.0 * np.arange(count) / 48_000)
    before = after.copy()
    middle = slice(count // 2 - 2_400, count // 2 + 2_400)
    before[middle] += np.random.default_rng(3).normal(0.0, 0.2, 4_800)
    return picture_of_repair(
        RepairedMoment(
            kind="noise",
            start_s=700.2,
            length_s=1.5,
            place=(33_600 / 72_000, 38_400 / 72_000),
            scale=WIDE,
            before=before,
            after=after,
            told="It stood 19.0 dB over the room, and stands 0.4 dB over it now.",
        )
    )


def report_facts() -> ReportFacts:
    """An hour that needs an ear."""
    return ReportFacts(
        title="Letters to the Editor",
        publication="The Marrowby Courier",
        issue_date=date(2026, 11, 25),
        readers=("Joan Abara", "Peter Quill"),
        grounds=(
            Ground(text="One word is too loud for the recording at 22:05.", weight="ear"),
            Ground(text="Paper is heard under words at 11:40.", weight="ear"),
        ),
        figures=(
            Figure(
                name="Loudness",
                unit="LUFS",
                before=-31.24,
                after=-23.02,
                target="-23.0 ± 0.2",
                met=True,
            ),
            Figure(
                name="True peak",
                unit="dBTP",
                before=-3.1,
                after=-1.05,
                target="at most -1.0",
                met=True,
            ),
            Figure(name="Loudness range", unit="LU", before=9.8, after=5.6),
            Figure(
                name="Noise between words",
                unit="dBov",
                before=-61.3,
                after=-53.0,
                target="at most -55.0",
                met=False,
            ),
            Figure(
                name="Speaking pace", unit="words a minute", before=None, after=158.0, decimals=0
            ),
        ),
        convention="one channel",
        duration_s=HOUR_S,
        duration_before_s=3502.0,
        window=Window(shortest_s=3360.0, longest_s=3480.0),
        target_lufs=-23.0,
        ceiling_dbtp=-1.0,
        before=speech_curve(3502.0, -31.2, 5),
        after=speech_curve(HOUR_S, -23.0, 7),
        findings=(
            finding(
                "restart",
                192.0,
                2.8,
                "fix",
                "A sentence is begun, then read again whole. The first try can go; the join lies "
                "in a pause.",
            ),
            finding(
                "rustle", 700.0, 1.4, "hear", "Louder than usual for this reader, over two words."
            ),
            finding("clip", 1325.0, 0.2, "hear", "One word is cut off at its loudest. Listen."),
            finding(
                "dead-air", 1877.0, 6.5, "note", "Nobody spoke for -6.5 seconds & more <here>."
            ),
        ),
        chapters=(
            Chapter(title="Opening words", start_s=0.0, end_s=21.0),
            Chapter(title="On the ferry timetable", start_s=21.0, end_s=468.0),
            Chapter(title="A bench for Mill Lane", start_s=468.0, end_s=902.0),
            Chapter(title="In praise of the night bus", start_s=902.0, end_s=HOUR_S),
        ),
        done=(
            Deed(
                text="The head was cut to 0.5 s of room tone before the first syllable.",
                reason="3.2 s and a breath went.",
            ),
            Deed(
                text="Two long silences were shortened to 2 s.",
                reason="They were 7 s and 9 s long, and the longest that is left alone is 5 s.",
            ),
            Deed(text="Rumble below 70 Hz was taken out."),
            Deed(
                text="The voice was evened by one gain for each sentence, -2.1 to +3.4 dB.",
                reason="Peter is 5 dB quieter than Joan.",
            ),
            Deed(
                text="The whole was raised by 8.2 dB to -23.0 LUFS.",
                reason="1.5 % of it was held under the ceiling of -1.0 dBTP.",
            ),
        ),
        pictures=RepairPictures(shown=(noise_picture(),), repairs=1),
        files=(
            ReportFile(
                name="letters-2026-11-25.wav",
                what="Master, Broadcast Wave, 24 bits",
                size_bytes=488_433_600,
            ),
            ReportFile(
                name="letters-2026-11-25.mp3", what="Master, MP3, 64 kbit/s", size_bytes=27_135_200
            ),
            ReportFile(name="plan.json", what="Finishing plan", size_bytes=18_300),
        ),
        player="letters-2026-11-25.mp3",
        source="the reading 7f3a in the Marrowby booth",
        made_at=datetime(2026, 11, 25, 14, 31, tzinfo=UTC),
        made_by="Quietleaf 0.1.0",
    )
