"""A finished reading for tests of pages, made by hand: real files, and facts that are known."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import quietleaf.example
from quietleaf.booth.edits import StateSet
from quietleaf.booth.reading import ReadingFacts, ReadingState
from quietleaf.delivery.bext import BroadcastExtension
from quietleaf.delivery.id3 import Chapter, Tags
from quietleaf.delivery.report import Deed, Figure, ReportFacts, ReportFile
from quietleaf.delivery.report_json import report_to_json
from quietleaf.finishing.high_pass import CORNER_HZ, ORDER
from quietleaf.finishing.plan import Cut, Drive, Fit, HighPass, Layout, Mp3, Plan
from quietleaf.finishing.plan_json import plan_to_text
from quietleaf.finishing.targets import Target
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Curve
from quietleaf.listening.verdict import Ground
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import master_row, reading_row, write_made
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, new_reading
from quietleaf.storage.station_file import read_station
from quietleaf.units import Window
from quietleaf.work.plan_station import plan_station
from quietleaf.work.tools import Tools

EXAMPLE = Path(*quietleaf.example.__path__) / "station.toml"
DAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 14, 20, tzinfo=UTC)
RATE_HZ = 48_000
SOUND_S = 12
FACTS = ReadingFacts(
    reading_id="k3f9",
    programme_key="marrowby-in-five",
    programme_title="Marrowby in Five",
    publication="The Marrowby Courier",
    issue_date=DAY,
    readers=("Ada Fenwick",),
    air_date=DAY,
)
FINDINGS = (
    Finding(
        kind="restart",
        start_s=6.4,
        end_s=8.2,
        severity="fix",
        value=1.8,
        limit=None,
        unit="s",
        advice="A sentence is begun, then read again whole. The first try can go.",
    ),
    Finding(
        kind="rustle",
        start_s=9.0,
        end_s=9.5,
        severity="hear",
        value=-38.0,
        limit=-50.0,
        unit="dBov",
        advice="Paper is heard in a pause.",
    ),
    Finding(
        kind="clip",
        start_s=10.0,
        end_s=10.1,
        severity="note",
        value=14.0,
        limit=3.0,
        unit="samples",
        advice="One word was too loud for the recording.",
    ),
)
REPORT = ReportFacts(
    title=FACTS.programme_title,
    publication=FACTS.publication,
    issue_date=DAY,
    readers=FACTS.readers,
    grounds=(
        Ground(text="A sentence is said twice.", weight="ear"),
        Ground(text="Paper is heard.", weight="ear"),
    ),
    figures=(
        Figure(
            name="Loudness",
            unit="LUFS",
            before=-31.2,
            after=-23.0,
            target="−23.0 ± 0.2",
            met=True,
        ),
        Figure(
            name="True peak", unit="dBTP", before=-0.1, after=-0.4, target="at most −1.0", met=False
        ),
        Figure(
            name="True peak of the MP3",
            unit="dBTP",
            before=None,
            after=-1.3,
            target="at most −1.0",
            met=True,
        ),
        Figure(name="Loudness range", unit="LU", before=5.1, after=4.2),
    ),
    convention="one channel",
    duration_s=float(SOUND_S),
    duration_before_s=SOUND_S + 2.0,
    window=Window(shortest_s=225.0, longest_s=285.0),
    target_lufs=-23.0,
    ceiling_dbtp=-1.0,
    before=Curve(power=np.full(SOUND_S * 10, 1e-4)),
    after=Curve(power=np.full(SOUND_S * 10, 5e-3)),
    findings=FINDINGS,
    chapters=(Chapter(title="The ferry", start_s=5.0, end_s=12.0),),
    done=(Deed(text="The head was trimmed to its first syllable."),),
    files=(ReportFile(name="marrowby.mp3", what="MP3", size_bytes=1),),
    player="marrowby.mp3",
    source="sample.flac",
    made_at=NOW,
    made_by="Quietleaf 0.1.0",
)
REPORT_PAGE = (
    "<!doctype html><html lang=en><title>Report</title><style>p{margin:0}</style>"
    "<p>The report</p><audio controls src='marrowby.mp3'></audio></html>"
)


def example_station(data: Path, at: datetime = NOW) -> Tools:
    """Plan the example station in a folder, with a clock that stands still."""
    tools = Tools(data=data, database=Database(database_url(data)), clock=lambda: at)
    plan_station(read_station(EXAMPLE), tools)
    return tools


def bring_reading(
    tools: Tools, facts: ReadingFacts = FACTS, state: ReadingState = "handed in"
) -> ReadingFolder:
    """Put a reading of a few seconds into the station."""
    with new_reading(tools.data, facts, at=NOW, author="Desk") as folder:
        writer = folder.next_take(RATE_HZ)
        writer.append(pcm24_of_samples(_sound()))
        folder.seal(writer, origin="a test", author="Desk", at=NOW)
        if state != "in the booth":
            folder.append(StateSet(state="handed in", note=""), author="Desk", at=NOW)
    tools.database.index_reading(reading_row(folder))
    return folder


def finish_reading(
    tools: Tools, folder: ReadingFolder, report: ReportFacts = REPORT, misfit_s: float = 0.0
) -> None:
    """Put masters, plan and report into a reading, as finishing does."""
    masters = folder.path / "masters"
    encoder = Mp3Encoder(masters / "marrowby.mp3", RATE_HZ, kbps=64)
    encoder.write(_sound())
    encoder.commit(Tags(title=report.title))
    with WaveMaster(masters / "marrowby.wav", RATE_HZ) as wave:
        wave.write(_sound())
        wave.commit(BroadcastExtension(description=report.title, originator="A test"))
    (masters / "plan.json").write_text(plan_to_text(plan_of(misfit_s)), encoding="utf-8")
    wave_sha = hashlib.sha256((masters / "marrowby.wav").read_bytes()).hexdigest()
    _keep_sentences(folder, wave_sha[:16])
    (masters / "report.html").write_text(REPORT_PAGE, encoding="utf-8")
    (masters / "report.json").write_text(json.dumps(report_to_json(report)), encoding="utf-8")
    summed = {
        "weights": sorted({ground.weight for ground in report.grounds}),
        "things_to_hear": sum(finding.severity != "note" for finding in report.findings),
        "misfit_s": misfit_s,
        "duration_s": report.duration_s,
    }
    write_made(
        folder,
        tuple(
            master_row(kind, masters / name, summed if kind == "report" else {})
            for kind, name in (
                ("wave", "marrowby.wav"),
                ("mp3", "marrowby.mp3"),
                ("plan", "plan.json"),
                ("report", "report.html"),
                ("report-facts", "report.json"),
            )
        ),
    )
    tools.database.index_reading(reading_row(folder))


def plan_of(misfit_s: float = 0.0) -> Plan:
    """Give a plan that leaves the sound as it is, with a first try that may be cut."""
    drive = Drive(
        gain_db=0.0, aim_dbtp=-1.0, look_ahead_ms=1.5, release_ms=80.0, reason="", measured={}
    )
    return Plan(
        target=Target(name="ebu-r128", loudness_lufs=-23.0, ceiling_dbtp=-1.0, dual_mono=False),
        layout=Layout(
            sound_samples=SOUND_S * RATE_HZ,
            join_samples=480,
            move_samples=12_000,
            end_fade_samples=480,
            head_samples=0,
            tail_samples=0,
            high_pass=HighPass(corner_hz=CORNER_HZ, order=ORDER, reason="", measured={}),
            cuts=(
                Cut(
                    kind="restart",
                    start=round(6.4 * RATE_HZ),
                    stop=round(8.2 * RATE_HZ),
                    reason="somebody should hear it before it goes",
                    measured={},
                    state="left",
                ),
            ),
            room_tone=(),
            sentences=(),
        ),
        wave=drive,
        mp3=Mp3(kbps=64, quality=2, encoder_gain_db=0.0, drive=drive, dips=(), rounds=1),
        fit=Fit(
            length_s=float(SOUND_S),
            window=REPORT.window,
            verdict="fits" if not misfit_s else "long" if misfit_s > 0.0 else "short",
            difference_s=misfit_s,
        ),
    )


def _keep_sentences(folder: ReadingFolder, key: str) -> None:
    """Keep a hearing with a sentence every two seconds."""
    told = {
        "schema": "quietleaf/hearing/1",
        "duration_s": float(SOUND_S),
        "level": {"active_speech_dbov": -23.0, "noise_floor_dbov": -62.0, "dc": 0.0},
        "speech": {"speech_s": 10.0},
        "sentences": [
            {
                "start_s": float(at),
                "pause_start_s": max(0.0, at - 0.2),
                "pause_stop_s": at + 0.1,
                "likelihood": 0.9,
            }
            for at in range(0, SOUND_S, 2)
        ],
        "findings": [],
    }
    path = folder.path / "measures" / f"hearing-{key}.json"
    path.write_text(json.dumps(told), encoding="utf-8")


def finished_station(data: Path, at: datetime = NOW) -> Tools:
    """Give the example station with one finished reading."""
    tools = example_station(data, at)
    finish_reading(tools, bring_reading(tools))
    return tools


def other_reading(programme_key: str, reading_id: str) -> ReadingFacts:
    """Give the facts of a reading that the example assigns for the same day."""
    station = read_station(EXAMPLE)
    programme = next(one for one in station.programmes if one.key == programme_key)
    assigned = [one for one in station.assignments if one.programme_key == programme_key]
    return replace(
        FACTS,
        programme_key=programme_key,
        reading_id=reading_id,
        programme_title=programme.title,
        publication=programme.publication,
        readers=assigned[0].readers if assigned else ("Joan Abara",),
    )


def _sound() -> NDArray[np.float64]:
    """Make a tone that comes and goes twice a second, 12 s."""
    time_s = np.arange(SOUND_S * RATE_HZ) / RATE_HZ
    return 0.2 * np.sin(2 * np.pi * 220 * time_s) * (0.5 + 0.5 * np.cos(4 * np.pi * time_s))
