"""Make an air-ready programme from a reading, or from a recording in a file."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from quietleaf.booth.admission import SETTLED
from quietleaf.booth.reading import ReadingState
from quietleaf.delivery.report import Deed, ReportFacts, ReportFile, report_html
from quietleaf.delivery.report_json import report_to_json
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.finishing.decisions import UNDECIDED, decisions_of
from quietleaf.finishing.layout import Ends
from quietleaf.finishing.make_plan import Wishes
from quietleaf.finishing.plan import RATE_HZ, Plan, PlannedOutlet
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.targets import target_of_text
from quietleaf.listening.hearing import Hearing, Measured
from quietleaf.listening.words_check import WordsCheck, words_to_hear
from quietleaf.planning.outlet import OUTLET_KIND
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.storage.aligner import Aligner
from quietleaf.storage.codecs import SoundFile, open_sound
from quietleaf.storage.index_rows import MasterRow, master_row
from quietleaf.storage.mono_sound import Mono, MonoSound
from quietleaf.storage.new_file import write_text_file
from quietleaf.storage.report_faces import report_faces
from quietleaf.storage.sound_source import SoundSource
from quietleaf.storage.staging import free_version, show_all, staging
from quietleaf.storage.versions import (
    RECORD,
    MadeVersion,
    number_of_record,
    version_to_text,
)
from quietleaf.units import Window, clock
from quietleaf.work.check_words import NO_WORDS, SetWords, check_words
from quietleaf.work.decisions_on import closing_of_reading, decisions_on
from quietleaf.work.finish_labels import (
    labels_of_file,
    labels_of_reading,
    places_of_reading,
    slug,
    stem_of_reading,
)
from quietleaf.work.finish_pictures import pictures_of_repairs
from quietleaf.work.finish_report import About, facts_of_report, things_to_hear
from quietleaf.work.finish_request import LONGEST_FIT_S, SHORTEST_FIT_S, FinishProgramme
from quietleaf.work.finish_sound import Labels, MadeMaster, Tell, finish_sound
from quietleaf.work.kept_hearing import keep_hearing, sound_key
from quietleaf.work.kept_words import keep_words
from quietleaf.work.make_outlet import SUFFIXES, make_outlet, outlets_named
from quietleaf.work.outlet_report import figures_of_outlets, file_of_outlet
from quietleaf.work.reading_words import set_words
from quietleaf.work.short_items import FOLDER as SHORT_ITEMS
from quietleaf.work.short_items import short_items

if TYPE_CHECKING:
    from quietleaf.planning.outlet import Outlet
    from quietleaf.planning.programme import Programme
    from quietleaf.planning.station import Station
    from quietleaf.storage.reading_folder import ReadingFolder
    from quietleaf.work.tools import Tools


class Telling(Protocol):
    """The clock, and somebody to tell of progress: all that finishing a bare file needs."""

    @property
    def clock(self) -> Callable[[], datetime]:
        """Gives the present moment as aware UTC."""

    @property
    def progress(self) -> Tell:
        """Told what is being done, and how much of it is done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """What was made.

    Attributes
    ----------
    plan_path, wave_path, mp3_path, report_path : Path
    outlet_paths : tuple of Path
        In the folder that was asked for; in the reading's own where none was.
    before, after : Hearing
        What was heard in the sound as it came, and in the wave master.
    mp3_after : Measured
        What was measured of the MP3.
    report : ReportFacts
        With the verdict and every figure.
    """

    plan_path: Path
    wave_path: Path
    mp3_path: Path
    report_path: Path
    outlet_paths: tuple[Path, ...]
    plan: Plan
    before: Hearing
    after: Hearing
    mp3_after: Measured
    report: ReportFacts


def finish_programme(request: FinishProgramme, tools: Tools) -> Finished:
    """Make a plan, a wave master, an MP3 and a report; check them by listening to them.

    All files appear at once, under names that were free, or none does.

    Raises
    ------
    Invalid, NotFound
        If the request does not hold together, or there is no such reading or file.
    AudioUnfit
        If the sound is silent, holds no speech, or cannot be brought to its target.
    Conflict, Unavailable, Damaged
        If the disk does not take the files, or gives back other than was written.
    """
    if isinstance(request.source, Path):
        return finish_file(request, tools)
    from quietleaf.storage.reading_folder import find_reading

    return _finish_reading(request, find_reading(tools.data, request.source), tools)


def finish_file(request: FinishProgramme, telling: Telling) -> Finished:
    """Make a programme of a recording in a file; needs no station. See `finish_programme`."""
    path = Path(request.source)
    if request.out is None:
        raise Invalid(
            "finish/no-folder",
            f"The programme made of {path.name} needs a folder to lie in. Name one with --out.",
        )
    wishes = _wishes(request, request.window)
    with open_sound(path) as file:
        mono, done = _mono(file, telling.progress)
        sound = MonoSound(file, mono)
        outlets = outlets_named(request.outlets or (), ())
        names = _Names.of(slug(path.stem) or "master", (request.out,), outlets)
        remarks = (*file.remarks, *done)
        about = About(
            title=path.stem,
            publication="",
            issue_date=None,
            readers=(),
            source=f"{path.name}: {file.info.encoding}, {file.info.sample_rate_hz} Hz",
            remarks=tuple(Deed(text=remark) for remark in remarks),
        )
        labels = labels_of_file(path, file, names.wave, names.mp3)
        with staging(request.out) as hidden, _offered(request.short_items, wishes) as offered:
            made, report, _ = _fill(
                sound,
                offered,
                labels,
                about,
                hidden,
                names,
                telling,
                _NO_WORDS,
            )
            show_all(hidden, request.out, names.delivered)
    return _finished(request.out, names, made, report)


def _finish_reading(request: FinishProgramme, folder: ReadingFolder, tools: Tools) -> Finished:
    from quietleaf.storage.index_rows import reading_row, write_made
    from quietleaf.storage.timeline_sound import TimelineSound

    facts, state, revision = folder.facts, folder.state, folder.revision
    decided = decisions_on(folder)
    if request.fit_s is None:
        request = replace(request, fit_s=decided.length_s)
    station = _station(tools)
    programme = _programme(station, facts.programme_key)
    window = request.window or (programme.window if programme else None)
    masters = folder.path / "masters"
    folders = (masters,) if request.out is None else (masters, request.out)
    known = station.outlets if station else ()
    wanted_outlets = request.outlets if request.outlets is not None else [o.key for o in known]
    outlets = outlets_named(wanted_outlets, known)
    names = _Names.of(stem_of_reading(facts, station), folders, outlets)
    with TimelineSound(folder, RATE_HZ) as sound:
        articles, span_starts = places_of_reading(folder)
        places = tuple(place for place, _ in articles)
        wishes = _wishes(request, window, places, span_starts, sound.joins)
        wishes = replace(
            wishes,
            decided=replace(wishes.decided, at_places=decided.at_places),
            closing=closing_of_reading(folder),
            one_reader=len(facts.readers) <= 1,
            titles=tuple(title for _, title in articles),
            private=_is_private(programme, request),
        )
        labels = labels_of_reading(folder, station, names.wave, names.mp3, articles)
        about = About(
            title=facts.programme_title,
            publication=facts.publication,
            issue_date=facts.issue_date,
            readers=facts.readers,
            source=f"reading {facts.reading_id}: {_takes_words(folder)}",
            remarks=(),
            review=programme.review if programme else USUAL_REVIEW,
        )
        items = request.short_items or tools.data / SHORT_ITEMS
        with staging(masters) as hidden, _offered(items, wishes) as offered:
            words = set_words(facts, programme, station)
            # It takes half a second to load, and many programmes have no such words.
            aligner = tools.open_aligner() if words.opening or words.closing else None
            wanted = _WordsWanted(words=words, aligner=aligner)
            made, report, checked = _fill(
                sound, offered, labels, about, hidden, names, tools, wanted
            )
            _write(hidden / names.facts, report_to_json(report))
            key = sound_key(folder, request.dead_air_s)
            keep_hearing(folder, key, made.before, facts.reading_id)
            keep_hearing(folder, made.wave.sha256[:16], made.wave_heard, names.wave)
            keep_words(folder.path, made.wave.sha256, checked)
            rows = _rows(hidden, names, made, report, checked)
            version = MadeVersion(
                number=number_of_record(names.record),
                at=tools.clock(),
                by=request.asked_by,
                revision=revision,
                again=None,
                masters=rows,
            )
            write_text_file(hidden / names.record, version_to_text(version))
            _refuse_settled_meanwhile(folder, state)
            all_names = (*names.delivered, names.facts, names.record)
            show_all(hidden, masters, all_names, request.out, names.delivered)
    write_made(folder, rows, version.number)
    tools.database.index_reading(reading_row(folder))
    return _finished(request.out or masters, names, made, report)


def _refuse_settled_meanwhile(folder: ReadingFolder, state: ReadingState) -> None:
    """Let no master come into use that nobody heard when the reading was cleared."""
    if state not in SETTLED and folder.reload().state in SETTLED:
        raise Conflict(
            "finish/settled-meanwhile",
            f"The reading was {folder.state} while it was being finished, and what is heard stays "
            "as it is. Return it, and finish it again.",
        )


def _rows(
    folder: Path, names: _Names, made: MadeMaster, report: ReportFacts, checked: WordsCheck
) -> tuple[MasterRow, ...]:
    """Say of each file in a folder what it is, for the index."""
    plan = made.plan
    summary = {
        "duration_s": plan.fit.length_s,
        "weights": sorted({ground.weight for ground in report.grounds}),
        "things_to_hear": things_to_hear(report.findings) + words_to_hear(checked),
        "misfit_s": plan.fit.difference_s,
    }
    loudness = {
        "integrated_lufs": made.wave_heard.loudness.integrated_lufs,
        "true_dbtp": made.wave_heard.peak.true_dbtp,
        "convention": report.convention,
    }
    mp3 = {
        "integrated_lufs": made.mp3_heard.loudness.integrated_lufs,
        "true_dbtp": made.mp3_heard.peak.true_dbtp,
        "kbps": plan.mp3.kbps,
    }
    return (
        master_row("plan", folder / names.plan, {"target": asdict(plan.target)}),
        master_row("wave", folder / names.wave, loudness),
        master_row("mp3", folder / names.mp3, mp3),
        master_row("report", folder / names.report, summary),
        master_row("report-facts", folder / names.facts, {}),
        *(
            master_row(f"{OUTLET_KIND}{outlet.key}", folder / name, asdict(outlet))
            for outlet, name in names.outlets
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _WordsWanted:
    """Which words are listened for in a master, and who does: nobody where there is none."""

    words: SetWords
    aligner: Aligner | None


_NO_WORDS = _WordsWanted(words=NO_WORDS, aligner=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Names:
    """The files of one version."""

    plan: str
    wave: str
    mp3: str
    report: str
    facts: str
    record: str
    outlets: tuple[tuple[Outlet, str], ...]

    @classmethod
    def of(cls, stem: str, folders: tuple[Path, ...], outlets: tuple[Outlet, ...]) -> _Names:
        wanted = ("plan.json", f"{stem}.wav", f"{stem}.mp3", "report.html", "report.json", RECORD)
        more = tuple(f"{stem}-{one.key}{SUFFIXES[one.form]}" for one in outlets)
        plan, wave, mp3, report, facts, record, *files = free_version(folders, (*wanted, *more))
        return cls(
            plan=plan,
            wave=wave,
            mp3=mp3,
            report=report,
            facts=facts,
            record=record,
            outlets=tuple(zip(outlets, files, strict=True)),
        )

    @property
    def delivered(self) -> tuple[str, ...]:
        files = tuple(name for _, name in self.outlets)
        return (self.plan, self.wave, self.mp3, self.report, *files)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Offered:
    """What a master is to be, and the sounds that may be laid after it."""

    wishes: Wishes
    sounds: Mapping[str, Sound]


@contextmanager
def _offered(folder: Path | None, wishes: Wishes) -> Iterator[_Offered]:
    """Open the short items, where a length may have to be made up."""
    wanted = not wishes.private and (wishes.window is not None or wishes.exact_s is not None)
    with short_items(folder if wanted else None) as found:
        yield _Offered(wishes=replace(wishes, offers=found.offers), sounds=found.sounds)


def _is_private(programme: Programme | None, request: FinishProgramme) -> bool:
    """Say whether it is a private request: it is never brought to a length."""
    private = programme is not None and programme.slot_s is None
    if private and request.fit_s is not None:
        raise Invalid(
            "finish/private",
            "A private request has no slot: it is never stretched nor cut to a length. Finish it "
            "without one.",
        )
    return private


def _fill(
    sound: SoundSource,
    offered: _Offered,
    labels: Labels,
    about: About,
    hidden: Path,
    names: _Names,
    telling: Telling,
    wanted: _WordsWanted,
) -> tuple[MadeMaster, ReportFacts, WordsCheck]:
    """Make all files in a hidden folder, and listen for the words in the master."""
    made = finish_sound(sound, offered.wishes, labels, hidden, telling.progress, offered.sounds)
    with open_sound(hidden / names.wave) as wave:
        checked = check_words(wanted.words, wave, wanted.aligner)
        pictures = pictures_of_repairs(made.plan, sound, wave)
    tags = labels.tags(made.plan)
    outlets = tuple(
        make_outlet(outlet, hidden / names.wave, made.wave_heard, hidden / name, tags, labels)
        for outlet, name in names.outlets
    )
    planned = tuple(
        PlannedOutlet(outlet=one.outlet, drive=one.drive, rounds=one.rounds) for one in outlets
    )
    made = replace(made, plan=replace(made.plan, outlets=planned))
    plan_file = write_text_file(hidden / names.plan, plan_to_text(made.plan))
    report = facts_of_report(
        made,
        about,
        checked,
        tags.chapters,
        (
            ReportFile(
                name=names.wave, what="Broadcast Wave, 24 bits", size_bytes=made.wave.size_bytes
            ),
            ReportFile(
                name=names.mp3,
                what=f"MP3, {made.plan.mp3.kbps} kbit/s",
                size_bytes=made.mp3.size_bytes,
            ),
            ReportFile(name=names.plan, what="Finishing plan", size_bytes=plan_file.size_bytes),
            *map(file_of_outlet, outlets),
        ),
        figures_of_outlets(outlets),
        pictures,
        names.mp3,
        telling.clock(),
        labels.made_by,
    )
    write_text_file(hidden / names.report, report_html(report, report_faces()))
    return made, report, checked


def _finished(folder: Path, names: _Names, made: MadeMaster, report: ReportFacts) -> Finished:
    return Finished(
        plan_path=folder / names.plan,
        wave_path=folder / names.wave,
        mp3_path=folder / names.mp3,
        report_path=folder / names.report,
        outlet_paths=tuple(folder / name for _, name in names.outlets),
        plan=made.plan,
        before=made.before,
        after=made.wave_heard,
        mp3_after=made.mp3_heard,
        report=report,
    )


def _wishes(
    request: FinishProgramme,
    window: Window | None,
    articles: tuple[int, ...] = (),
    span_starts: tuple[int, ...] = (),
    joins: tuple[int, ...] = (),
) -> Wishes:
    for what, length_s in (("head", request.head_s), ("tail", request.tail_s)):
        if not 0.0 <= length_s <= 30.0:
            raise Invalid(
                "finish/ends",
                f"The room tone at the {what} of a master lasts 0 to 30 s; {length_s:g} came.",
            )
    if request.fit_s is not None and not SHORTEST_FIT_S <= request.fit_s <= LONGEST_FIT_S:
        raise Invalid(
            "finish/fit",
            f"A programme can be fitted to a length of {clock(SHORTEST_FIT_S)} to "
            f"{clock(LONGEST_FIT_S)}; {clock(request.fit_s)} was asked for.",
        )
    return Wishes(
        exact_s=request.fit_s,
        target=target_of_text(request.loudness, request.ceiling_dbtp, request.dual_mono),
        ends=Ends(head_s=request.head_s, tail_s=request.tail_s),
        window=window,
        mp3_kbps=request.mp3_kbps,
        articles=articles,
        span_starts=span_starts,
        dead_air_s=request.dead_air_s,
        joins=joins,
        decided=UNDECIDED if request.plan is None else decisions_of(_read_plan(request.plan)),
    )


def _read_plan(path: Path) -> Plan:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise NotFound(
            "finish/no-plan",
            f"There is no plan {path}. Name one that finishing wrote, or finish without.",
        ) from None
    except (OSError, UnicodeDecodeError) as fault:
        raise Invalid("finish/plan", f"The plan {path} cannot be read: {fault}.") from fault
    return plan_of_text(text)


def _mono(file: SoundFile, tell: Tell) -> tuple[Mono, tuple[str, ...]]:
    """Choose a channel in one pass; a recording of one channel needs none."""
    if file.info.channels == 1:
        return one_channel, ()
    # What it needs takes a second to load, and most recordings do not need it.
    from quietleaf.listening import channel_levels, channels

    state = channel_levels.start(file.info.sample_rate_hz, file.info.channels)
    done = 0
    for block in file.blocks():
        state = channel_levels.step(state, block)
        done += block.shape[0]
        tell("choosing a channel", done / file.info.frames)
    choice = channels.result(state)
    return choice.mono, (choice.sentence,)


def _station(tools: Tools) -> Station | None:
    try:
        return tools.database.load_station()
    except NotFound:
        # A reading's folder says enough by itself; the station adds its window and its zone.
        return None


def _programme(station: Station | None, key: str) -> Programme | None:
    if station is None:
        return None
    found = [one for one in station.programmes if one.key == key]
    return found[0] if found else None


def _takes_words(folder: ReadingFolder) -> str:
    takes = folder.takes()
    return takes[0].origin if len(takes) == 1 and takes[0].origin else f"{len(takes)} takes"


def _write(path: Path, tree: object) -> None:
    write_text_file(path, json.dumps(tree, ensure_ascii=False, allow_nan=False) + "\n")
