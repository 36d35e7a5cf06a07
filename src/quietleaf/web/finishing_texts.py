"""The words of the finishing plan’s page: what each entry is, how it stands, what can be done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from quietleaf.delivery.report_words import (
    FINDING_WORDS,
    KEPT,
    begun,
    counted,
    length,
    number,
    signed,
    size_words,
)
from quietleaf.finishing.fit_entries import PaceChange, PauseChange, ShortItem, StopPlace
from quietleaf.finishing.plan import (
    RATE_HZ,
    Colour,
    Cut,
    CutKind,
    Drive,
    Fill,
    Fit,
    HighPass,
    Mp3,
    PlannedOutlet,
    RoomTone,
    Sentence,
)
from quietleaf.finishing.repairs import (
    Interpolation,
    LinesTaken,
    LowBand,
    Replaced,
    TurnedDown,
)
from quietleaf.planning.words import MONTHS, WEEKDAYS
from quietleaf.storage.index_rows import MasterRow
from quietleaf.storage.versions import MadeVersion
from quietleaf.units import clock
from quietleaf.web.measured_words import measured_words
from quietleaf.web.texts import FILE_KINDS
from quietleaf.work.finishings import SeenFinishing
from quietleaf.work.plan_entries import Part, SeenEntry
from quietleaf.work.see_finishing import SeenPlan

TITLE = "What was done, and why"
WAYS = "More pages"
TO_READING = "The reading"
TO_DAY = "Today’s programmes"
FINISHING = "Finishing"
FINISH = "Finish it"
FINISH_AGAIN = "Finish it again"
STOP = "Stop"
SHOW_NEW = "Show the plan as it is now"
LOOK_AGAIN = "Look again"
NOT_OPEN = (
    "This reading is cleared, and what is heard stays as it is. Return it to change something."
)
IN_THE_BOOTH = "This is being read. It can be finished when it is handed in."
NEVER = "It has no master yet. Finishing makes one, and the plan of what is done to it."
NO_PLAN = "The plan of its master cannot be read any more. Finishing it again makes another."
OUTDATED = (
    "The reading was changed since this was made. Finish it again: then its entries can be decided "
    "about. What was decided before stays, as far as its place is still read."
)
PARTS_NAME = "Parts of the plan"
PART_WORDS: dict[Part, str] = {
    "cuts": "Cuts and joins",
    "repairs": "Repairs",
    "evening": "Evenness",
    "fit": "Length",
    "loudness": "Loudness",
    "outlets": "Outlets",
}
PART_LEADS: dict[Part, str] = {
    "cuts": "What leaves the programme, and how the two sides are brought together.",
    "repairs": "Where something was found. Outside of a repair every sample stays as it was.",
    "evening": "One gain for each sentence. It moves inside the pauses, so that nothing pumps.",
    "fit": "What brings it to its length: pauses first, then the pace, then short items.",
    "loudness": "One gain for the whole, and a limiter that keeps peaks under the ceiling.",
    "outlets": "A file for each place that the programme goes to.",
}
EMPTY = "There is nothing here."
PAGES = "Pages of entries"
BEFORE_PAGE, NEXT_PAGE = "Before", "Next"
HEAR = "Hear it"
CHANGE = "Change"
REFUSE, MAKE, AS_PLANNED = "Refuse it", "Make it", "As planned"
CHOOSE, NOT_CHOOSE = "Stop here", "Do not stop here"
WAITS = "It waits until the reading is finished again."
FIELD = {
    "repair": "Strength, dB",
    "sentence": "Gain, dB",
    "pause": "Length, s",
}
LENGTH = "Fit to a length"
LENGTH_FIELD = "Length"
LENGTH_HINT = "Minutes and seconds, like 58:00. Nothing is ever cut off in a sentence."
LENGTH_DO = "Fit to this length"
LENGTH_FREE = "Back to the programme’s window"
PRIVATE = "A private request has no slot, and keeps its length."
VERSIONS = "Versions"
VERSIONS_LEAD = "Every version is kept. The one in use is what goes out."
USE = "Use this version"
IN_USE = "in use"
LISTEN = "Listen"
REFUSED = "Nothing was changed."
KEPT_SAID = "It is decided. It is carried out when the reading is finished again."
NEEDED_NUMBER = {
    "repair": "The strength of a repair is a number of decibels, like 6",
    "sentence": "A gain is a number of decibels, like 1.5 or -2",
    "pause": "The length of a pause is a number of seconds, like 0.6",
}
_CUTS: dict[CutKind, str] = {
    "head": "What comes before the first syllable",
    "breath": "A breath before the first word",
    "tail": "What comes after the last word",
    "dead-air": "A long silence, shortened",
    "restart": "A first try, read again after it",
    "desk": "A place that the desk chose",
    "stop": "What comes after the place where it stops",
}
_STATES = {"made": "Made", "left": "Left as it was", "refused": "Refused"}
_WANTED = {"made": "made", "refused": "refused"}
_PAUSES = {
    "sentence": "A pause between sentences",
    "paragraph": "A pause between paragraphs",
    "article": "A pause between articles",
    "phrase": "A pause inside a sentence",
}
_VERDICTS = {
    "fits": "It fits.",
    "short": "It is too short.",
    "long": "It is too long.",
    "free": "Any length will do.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryWords:
    """An entry in words.

    Attributes
    ----------
    title : str
    done : str
        What is done, with its strength; may be empty.
    why : str
        The plan's reason, as a sentence.
    measured : str
    """

    title: str
    done: str
    why: str
    measured: str


def entry_words(seen: SeenEntry) -> EntryWords:
    """Say what an entry is, what is done, why, and what was measured."""
    entry = seen.entry
    title, done = _title_and_deed(seen)
    why = "" if isinstance(entry, StopPlace) else _reason(entry)
    measured = getattr(entry, "measured", {})
    if isinstance(entry, Mp3 | PlannedOutlet):
        measured = entry.drive.measured
    return EntryWords(
        title=title,
        done=done,
        why=_sentence(why),
        measured=measured_words(measured),
    )


def state_words(seen: SeenEntry) -> str:
    """Say how an entry stands in the master, and whose decision that was; empty for what is none.

    Examples
    --------
    >>> cut = Cut(kind="tail", start=0, stop=48_000, reason="", measured={}, by="desk")
    >>> state_words(SeenEntry(number=1, entry=cut, of="cut"))
    'Made, as the desk decided.'
    """
    entry = seen.entry
    by = getattr(entry, "by", None)
    if by is None or seen.of == "":
        return ""
    if isinstance(entry, StopPlace):
        return "It stops here, as the desk decided." if entry.state == "made" else "Not chosen."
    if isinstance(entry, Sentence) and entry.gain_db == 0.0 and by == "plan":
        return ""
    said = _STATES[getattr(entry, "state", "made")]
    return f"{said}, as the desk decided." if by == "desk" else f"{said}, as planned."


def decided_words(seen: SeenEntry, zone: tzinfo) -> str:
    """Say who decided what; empty where nobody did."""
    if seen.decided is None:
        return "To be as planned again." if seen.waits else ""
    edit, decision = seen.decided.edit, seen.decided.decision
    what = _WANTED[decision.wanted]
    if decision.value is not None:
        unit = "s" if seen.of == "pause" else "dB"
        what = f"to be {number(decision.value, 2)}{KEPT}{unit}"
    elif seen.of == "stop":
        what = "chosen"
    return f"{edit.author}, {moment(edit.at, zone)}: {what}."


def clock_words(at_s: float | None) -> str:
    """Say where an entry lies in the reading."""
    return "" if at_s is None else f"at {clock(at_s)}"


def moment(at: datetime, zone: tzinfo) -> str:
    """Write a moment as the desk's pages do: ``Wednesday 25 November, 14:20``."""
    there = at.astimezone(zone)
    day = f"{WEEKDAYS[there.weekday()]} {there.day} {MONTHS[there.month - 1]}"
    return f"{day}, {there:%H:%M}"


def waiting_words(waiting: int) -> str:
    """Say how many decisions wait."""
    decisions = begun(counted(waiting, "decision waits", "decisions wait"))
    return f"{decisions} to be carried out."


def under_way_words(seen: SeenFinishing) -> str:
    """Say how far finishing has got."""
    if seen.before:
        before = counted(seen.before, "other reading is", "other readings are")
        return f"It waits for its turn: {before} before it."
    step = begun(seen.step) if seen.step else "Begun"
    return f"{step}: {seen.done * 100:.0f}{KEPT}% of this step."


def step_words(seen: SeenFinishing) -> str:
    """Say what is being done, without figures: it changes only when there is something to tell."""
    if seen.before:
        return f"{seen.title} waits to be finished."
    return f"{seen.title} is being finished: {seen.step or 'begun'}."


def asked_words(seen: SeenFinishing, zone: tzinfo) -> str:
    """Say who wanted it, and when."""
    who = f", as {seen.mark.by} wished" if seen.mark.by else ""
    return f"Asked for on {moment(seen.mark.asked_at, zone)}{who}."


def ended_words(seen: SeenPlan) -> str:
    """Say how finishing ended the last time; empty where it was never asked for."""
    mark = seen.mark
    if mark is None or mark.ending is None or mark.ended_at is None:
        return ""
    at = moment(mark.ended_at, seen.zone)
    stays = "The master before it is in use as it was." if seen.versions else ""
    match mark.ending:
        case "made":
            return f"Finished on {at}."
        case "refused":
            return f"It could not be finished on {at}: {mark.told} {stays}".rstrip()
        case "stopped":
            who = f" by {mark.told}" if mark.told else ""
            return f"Stopped{who} on {at}. Nothing was changed. {stays}".rstrip()
        case "broken off":
            return f"Finishing broke off on {at}. Nothing was changed; ask for it again."


def length_words(seen: SeenPlan) -> str:
    """Say how long it is to be by a decision of the desk; empty where the window says."""
    if seen.length_s is None:
        return ""
    return f"To be exactly {clock(seen.length_s)}. Decided by: {seen.length_by}."


def in_use_words(seen: SeenPlan) -> str:
    """Say which version is in use; empty where none is known."""
    version = next((one for one in seen.versions if one.number == seen.in_use), None)
    if version is None:
        return ""
    told = version_words(version, seen.zone)
    return f"In use: {told[0].lower()}{told[1:]}."


def version_words(version: MadeVersion, zone: tzinfo) -> str:
    """Say which version this is, when it was made, and whose wish it was."""
    who = f", for {version.by}" if version.by else ""
    if version.again is not None:
        who = f" by {version.by}" if version.by else ""
        return (
            f"Version {version.number}, version {version.again} again, taken into use"
            f"{who} on {moment(version.at, zone)}"
        )
    return f"Version {version.number}, made on {moment(version.at, zone)}{who}"


def file_words(row: MasterRow) -> str:
    """Say what a file of a version is and how large."""
    kind = FILE_KINDS.get(row.kind) or f"For {row.kind.partition(':')[2]}"
    return f"{kind}, {size_words(row.bytes)}"


def part_link(part: Part, count: int) -> str:
    """Name a part with the number of its entries."""
    return f"{PART_WORDS[part]} {count}"


def page_words(page: int, pages: int) -> str:
    """Say which page this is."""
    return f"Page {page} of {pages}"


def value_now(seen: SeenEntry) -> str:
    """Give the value that a field begins with."""
    if seen.decided is not None and seen.decided.decision.value is not None:
        return f"{seen.decided.decision.value:g}"
    match seen.entry:
        case LowBand() | TurnedDown():
            return f"{seen.entry.by_db:g}"
        case Sentence():
            return f"{seen.entry.gain_db:g}"
        case PauseChange():
            return f"{seen.entry.samples / RATE_HZ:.2f}"
    return ""


def _title_and_deed(seen: SeenEntry) -> tuple[str, str]:
    match seen.entry:
        case Cut(kind=kind, start=start, stop=stop):
            return _CUTS[kind], f"{_s(stop - start)} cut."
        case RoomTone(place=place, samples=samples):
            where = "before the first syllable" if place == "head" else "after the last word"
            return f"Room tone {where}", f"{_s(samples)} laid."
        case Fill(start=start, stop=stop):
            return "Noise of the room, added at a join", f"For {_s(stop - start)}."
        case Colour(start=start, stop=stop, bands_db=bands_db):
            reach = f"{number(min(bands_db))} to {number(max(bands_db))}{KEPT}dB"
            return (
                "The tone of the voice, matched",
                f"A gentle filter for {_s(stop - start)}: {reach}.",
            )
        case HighPass(corner_hz=corner_hz):
            return "Rumble and offset", f"Taken away below {corner_hz:g}{KEPT}Hz."
        case Sentence(start=start, stop=stop, gain_db=gain_db, loudness_lufs=loudness_lufs):
            loud = f"it was {number(loudness_lufs)}{KEPT}LUFS"
            way = "louder" if gain_db > 0 else "softer"
            told = (
                f"{number(abs(gain_db), 2)}{KEPT}dB {way}; {loud}."
                if gain_db
                else f"As loud as it was read; {loud}."
            )
            return f"A sentence of {_s(stop - start)}", told
        case Fit(length_s=length_s, verdict=verdict, window=window):
            of = f" Its window is {window}." if window is not None else ""
            return f"{begun(length(length_s))} long", f"{_VERDICTS[verdict]}{of}"
        case StopPlace(length_s=length_s, leaves_out=leaves_out, leaves_out_s=leaves_out_s):
            return (
                "The end of an article",
                f"With the closing words the programme is {length(length_s)} long. That leaves out "
                f"{length(leaves_out_s)}: {', '.join(leaves_out)}.",
            )
        case PauseChange(kind=kind, start=start, stop=stop, samples=samples, state=state):
            was = _s(stop - start)
            return _PAUSES[kind], (
                f"{was} becomes {_s(samples)}." if state == "made" else f"It stays {was}."
            )
        case PaceChange(start=start, stop=stop, samples=samples, state=state):
            share = 100.0 * (samples - (stop - start)) / (stop - start)
            told = f"{number(abs(share), 2)}{KEPT}% {'slower' if share > 0 else 'faster'}."
            return f"The pace of a sentence of {_s(stop - start)}", (
                told if state == "made" else "It keeps its own."
            )
        case ShortItem(title=title, samples=samples, gain_db=gain_db):
            return title, f"{_s(samples)} after the reading, at {number(gain_db)}{KEPT}dB."
        case Drive() as drive:
            return "The wave master", _driven(drive)
        case Mp3(kbps=kbps, drive=drive, dips=dips, encoder_gain_db=encoder_gain_db):
            dipped = counted(len(dips), "place is", "places are")
            told = f"{number(encoder_gain_db, 2)}{KEPT}dB of that is what the encoder loses."
            turned = f" {begun(dipped)} turned down for its peaks." if dips else ""
            return f"The MP3 of {kbps}{KEPT}kbit/s", f"{_driven(drive)} {told}{turned}"
        case PlannedOutlet(outlet=outlet, drive=drive, rounds=rounds):
            made = f"Made {counted(rounds, 'time', 'times')} until it was right."
            return f"For {outlet.key}", f"{_driven(drive)} {made}"
        case Interpolation(runs=runs):
            return _found(
                seen
            ), f"{begun(counted(len(runs), 'place', 'places'))} told anew from the sound around."
        case LowBand(by_db=by_db, corner_hz=corner_hz):
            return _found(
                seen
            ), f"What lies under {corner_hz:.0f}{KEPT}Hz turned down by {number(by_db)}{KEPT}dB."
        case TurnedDown(by_db=by_db):
            return _found(seen), f"Turned down by {number(by_db)}{KEPT}dB; the room under it stays."
        case Replaced():
            return _found(seen), "Replaced by room tone."
        case LinesTaken(lines=lines, mains_hz=mains_hz):
            many = counted(len(lines), "line", "lines")
            return _found(
                seen
            ), f"{begun(many)} at multiples of {number(mains_hz, 2)}{KEPT}Hz taken away."


def _found(seen: SeenEntry) -> str:
    kind = getattr(seen.entry, "kind")  # noqa: B009
    return FINDING_WORDS[kind]


def _driven(drive: Drive) -> str:
    gain = f"{'+' if drive.gain_db > 0 else ''}{number(drive.gain_db)}{KEPT}dB"
    return f"Gain {gain}, true peaks kept under {number(drive.aim_dbtp)}{KEPT}dBTP."


def _reason(entry: object) -> str:
    if isinstance(entry, Mp3 | PlannedOutlet):
        return entry.drive.reason
    reason: str = getattr(entry, "reason", "")
    return reason


def _sentence(text: str) -> str:
    if not text:
        return ""
    return begun(signed(text)) + ("" if text.endswith(".") else ".")


def _s(samples: int) -> str:
    return f"{number(samples / RATE_HZ, 2)}{KEPT}s"
