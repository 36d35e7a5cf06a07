"""A plan as a readable file, and back: strict, with sentences for what does not fit.

One line an entry. ``at`` and ``to`` beside samples say the same as a clock, for the eye: they are
written, and not read.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from quietleaf.finishing.assembly import kept_ranges, master_samples
from quietleaf.finishing.colours import COLOUR_HZ
from quietleaf.finishing.entries import AUTHORS, STATES
from quietleaf.finishing.fills import BANDS_HZ
from quietleaf.finishing.fit_json import (
    check_changes,
    fit_to_json,
    item_of_entry,
    pace_of_entry,
    pause_of_entry,
    stop_of_entry,
)
from quietleaf.finishing.high_pass import ORDER
from quietleaf.finishing.outlets_json import outlet_of_entry, outlet_to_json
from quietleaf.finishing.plan import (
    CUT_KINDS,
    FIT_VERDICTS,
    RATE_HZ,
    Colour,
    Cut,
    Dip,
    Drive,
    Fill,
    Fit,
    HighPass,
    Layout,
    Mp3,
    Plan,
    RoomTone,
    Sentence,
)
from quietleaf.finishing.plan_entry import Entry, place_clock, read_pairs, read_range, refusal
from quietleaf.finishing.repairs import Repair
from quietleaf.finishing.repairs_json import check_repairs, repair_of_entry, repair_to_json
from quietleaf.finishing.targets import Target
from quietleaf.units import Window

SCHEMA = "quietleaf/plan/1"
_ADDED_SAMPLES_MOST = 3600 * RATE_HZ
"""Room tone, longer pauses and short items together; far more than any slot waits for."""


def plan_to_text(plan: Plan) -> str:
    """Write a plan as JSON, one line an entry of a list.

    Examples
    --------
    The file begins ``{"schema": "quietleaf/plan/1", …``; see ``tests/unit/finishing``.
    """
    layout = plan.layout
    tree = {
        "schema": SCHEMA,
        "target": asdict(plan.target),
        "fit": {
            "length_s": plan.fit.length_s,
            "window_s": None
            if plan.fit.window is None
            else [plan.fit.window.shortest_s, plan.fit.window.longest_s],
            "verdict": plan.fit.verdict,
            "difference_s": plan.fit.difference_s,
            **fit_to_json(plan.fit),
        },
        "sound_samples": layout.sound_samples,
        "join_samples": layout.join_samples,
        "move_samples": layout.move_samples,
        "end_fade_samples": layout.end_fade_samples,
        "head_samples": layout.head_samples,
        "tail_samples": layout.tail_samples,
        "high_pass": _plain(layout.high_pass),
        "cuts": [_placed(cut) for cut in layout.cuts],
        "room_tone": [_plain(tone) for tone in layout.room_tone],
        "sentences": [_placed(sentence) for sentence in layout.sentences],
        **({"fills": [_placed(fill) for fill in layout.fills]} if layout.fills else {}),
        **({"colours": [_placed(one) for one in layout.colours]} if layout.colours else {}),
        **({"repairs": [_repaired(one) for one in layout.repairs]} if layout.repairs else {}),
        **({"pauses": [_placed(one) for one in layout.pauses]} if layout.pauses else {}),
        **({"pace": [_placed(one) for one in layout.pace]} if layout.pace else {}),
        **({"items": [_plain(one) for one in layout.items]} if layout.items else {}),
        "wave": _plain(plan.wave),
        "mp3": {
            "kbps": plan.mp3.kbps,
            "quality": plan.mp3.quality,
            "encoder_gain_db": plan.mp3.encoder_gain_db,
            "rounds": plan.mp3.rounds,
            "drive": _plain(plan.mp3.drive),
            "dips": [_placed(dip) for dip in plan.mp3.dips],
        },
        **({"outlets": [outlet_to_json(one) for one in plan.outlets]} if plan.outlets else {}),
    }
    return _lines(tree, "") + "\n"


def plan_of_text(text: str) -> Plan:
    """Read a plan.

    Raises
    ------
    Invalid
        If it is no plan, one of another version, or an entry does not hold together; the sentence
        names the entry.
    """
    try:
        tree = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        raise refusal("the file", f"is no JSON ({fault})") from None
    if not isinstance(tree, dict):
        raise refusal("the file", "holds no plan")
    schema = tree.get("schema")
    if schema != SCHEMA:
        raise refusal("schema", f"is {schema!r}; this version reads {SCHEMA!r}")
    top = Entry({name: value for name, value in tree.items() if name != "schema"}, "plan")
    layout = Layout(
        sound_samples=top.whole("sound_samples", least=1),
        join_samples=top.whole("join_samples", least=2),
        move_samples=top.whole("move_samples"),
        end_fade_samples=top.whole("end_fade_samples"),
        head_samples=top.whole("head_samples"),
        tail_samples=top.whole("tail_samples"),
        high_pass=_high_pass(top.entry("high_pass")),
        cuts=tuple(_cut(entry) for entry in top.entries("cuts")),
        room_tone=tuple(_room_tone(entry) for entry in top.entries("room_tone")),
        sentences=tuple(_sentence(entry) for entry in top.entries("sentences")),
        # Plans of readings without joins, and those from before rooms were matched, have none.
        fills=tuple(_fill(entry) for entry in top.entries("fills")) if top.has("fills") else (),
        colours=tuple(map(_colour, top.entries("colours"))) if top.has("colours") else (),
        repairs=tuple(map(repair_of_entry, top.entries("repairs"))) if top.has("repairs") else (),
        # Only what is fitted to a slot has these.
        pauses=tuple(map(pause_of_entry, top.entries("pauses"))) if top.has("pauses") else (),
        pace=tuple(map(pace_of_entry, top.entries("pace"))) if top.has("pace") else (),
        items=tuple(map(item_of_entry, top.entries("items"))) if top.has("items") else (),
    )
    plan = Plan(
        target=_target(top.entry("target")),
        layout=layout,
        wave=_drive(top.entry("wave")),
        mp3=_mp3(top.entry("mp3")),
        fit=_fit(top.entry("fit")),
        outlets=tuple(outlet_of_entry(one, _drive) for one in top.entries("outlets"))
        if top.has("outlets")
        else (),
    )
    top.finished()
    _check_layout(layout)
    return plan


def _target(entry: Entry) -> Target:
    target = Target(
        name=entry.text("name"),
        loudness_lufs=entry.number("loudness_lufs", -70.0, 0.0),
        ceiling_dbtp=entry.number("ceiling_dbtp", -60.0, 0.0),
        dual_mono=entry.flag("dual_mono"),
    )
    entry.finished()
    return target


def _fit(entry: Entry) -> Fit:
    window = None
    pair = entry.take("window_s")
    if pair is not None:
        where = f"{entry.where}.window_s"
        if not isinstance(pair, list) or len(pair) != 2:
            raise refusal(where, "is not a shortest and a longest length")
        both = Entry({"shortest": pair[0], "longest": pair[1]}, where)
        window = Window(
            shortest_s=both.number("shortest", 0.0), longest_s=both.number("longest", 0.0)
        )
    fit = Fit(
        length_s=entry.number("length_s", 0.0),
        window=window,
        verdict=entry.text("verdict", FIT_VERDICTS),
        difference_s=entry.number("difference_s"),
        wanted_samples=entry.whole("wanted_samples", least=1)
        if entry.has("wanted_samples")
        else None,
        reason=entry.text("reason") if entry.has("reason") else "",
        measured=entry.measured() if entry.has("measured") else {},
        stops=tuple(map(stop_of_entry, entry.entries("stops"))) if entry.has("stops") else (),
    )
    entry.finished()
    return fit


def _high_pass(entry: Entry) -> HighPass:
    found = HighPass(
        corner_hz=entry.number("corner_hz", 1.0, 400.0),
        order=entry.whole("order"),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    if found.order != ORDER:
        raise refusal(f"{entry.where}.order", f"is {found.order}; this version has order {ORDER}")
    return found


def _cut(entry: Entry) -> Cut:
    kind = entry.text("kind", CUT_KINDS)
    start, stop = read_range(entry)
    cut = Cut(
        kind=kind,
        start=start,
        stop=stop,
        reason=entry.text("reason"),
        measured=entry.measured(),
        # Plans from before they could be refused have neither.
        state=entry.text("state", STATES) if entry.has("state") else "made",
        by=entry.text("by", AUTHORS) if entry.has("by") else "plan",
    )
    entry.finished()
    return cut


def _room_tone(entry: Entry) -> RoomTone:
    quiet = read_pairs(entry, "quiet")
    tone = RoomTone(
        place=entry.text("place", ("head", "tail")),
        samples=entry.whole("samples", least=1),
        seed=entry.whole("seed"),
        quiet=quiet,
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    return tone


def _sentence(entry: Entry) -> Sentence:
    start, stop = read_range(entry)
    sentence = Sentence(
        start=start,
        stop=stop,
        loudness_lufs=entry.number("loudness_lufs"),
        gain_db=entry.number("gain_db", -60.0, 60.0),
        reason=entry.text("reason"),
        by=entry.text("by", AUTHORS) if entry.has("by") else "plan",
    )
    entry.finished()
    return sentence


def _fill(entry: Entry) -> Fill:
    start, stop = read_range(entry)
    fill = Fill(
        start=start,
        stop=stop,
        rise=entry.whole("rise"),
        fall=entry.whole("fall"),
        bands_db=_bands_db(entry, len(BANDS_HZ) - 1, -200.0, 0.0),
        top_hz=entry.number("top_hz", BANDS_HZ[1], BANDS_HZ[-1])
        if entry.has("top_hz")
        else BANDS_HZ[-1],
        seed=entry.whole("seed"),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    return fill


def _colour(entry: Entry) -> Colour:
    start, stop = read_range(entry)
    colour = Colour(
        start=start,
        stop=stop,
        bands_db=_bands_db(entry, len(COLOUR_HZ), -12.0, 12.0),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    return colour


def _bands_db(entry: Entry, count: int, least: float, most: float) -> tuple[float, ...]:
    bands = entry.take("bands_db")
    where = f"{entry.where}.bands_db"
    if not isinstance(bands, list) or len(bands) != count:
        raise refusal(where, f"is not a list of {count} levels")
    levels = Entry({str(index): level for index, level in enumerate(bands)}, where)
    return tuple(levels.number(str(index), least, most) for index in range(count))


def _drive(entry: Entry) -> Drive:
    drive = Drive(
        gain_db=entry.number("gain_db", -100.0, 100.0),
        aim_dbtp=entry.number("aim_dbtp", -60.0, 0.0),
        look_ahead_ms=entry.number("look_ahead_ms", 0.1, 50.0),
        release_ms=entry.number("release_ms", 1.0, 5000.0),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    return drive


def _mp3(entry: Entry) -> Mp3:
    dips = []
    for one in entry.entries("dips"):
        start, stop = read_range(one)
        dips.append(Dip(start=start, stop=stop, gain_db=one.number("gain_db", -60.0, 0.0)))
        one.finished()
    mp3 = Mp3(
        kbps=entry.whole("kbps", least=8),
        quality=entry.whole("quality"),
        encoder_gain_db=entry.number("encoder_gain_db", -20.0, 20.0),
        drive=_drive(entry.entry("drive")),
        dips=tuple(dips),
        rounds=entry.whole("rounds"),
    )
    entry.finished()
    return mp3


def _check_layout(layout: Layout) -> None:
    """See to it that the entries fit the sound, and each other."""
    for index, cut in enumerate(layout.cuts):
        if cut.stop > layout.sound_samples:
            raise refusal(f"plan.cuts[{index}]", "reaches past the end of the sound")
    for index, tone in enumerate(layout.room_tone):
        if any(stop > layout.sound_samples for _, stop in tone.quiet):
            raise refusal(f"plan.room_tone[{index}]", "is taken from past the end of the sound")
    reached = 0
    for index, sentence in enumerate(layout.sentences):
        if sentence.start < reached or sentence.stop > layout.sound_samples:
            raise refusal(f"plan.sentences[{index}]", "overlaps another, or the sound's end")
        reached = sentence.stop
    for index, fill in enumerate(layout.fills):
        if fill.stop > layout.sound_samples:
            raise refusal(f"plan.fills[{index}]", "reaches past the end of the sound")
    for index, colour in enumerate(layout.colours):
        if colour.stop > layout.sound_samples:
            raise refusal(f"plan.colours[{index}]", "reaches past the end of the sound")
    check_repairs(layout.repairs, layout.sound_samples)
    check_changes("pauses", layout.pauses, layout.sound_samples)
    check_changes("pace", layout.pace, layout.sound_samples)
    kept = kept_ranges(layout)
    if not kept:
        raise refusal("plan.cuts", "leave nothing of the sound")
    if any(stop - start < layout.join_samples for start, stop in kept) and len(kept) > 1:
        raise refusal("plan.cuts", "leave a piece shorter than a join")
    if not 0 < master_samples(layout) <= layout.sound_samples + _ADDED_SAMPLES_MOST:
        raise refusal("plan", "makes a master that is hours longer than its sound")


def _plain(record: Any) -> dict[str, Any]:
    return {
        name: dict(value) if name == "measured" else value for name, value in asdict(record).items()
    }


def _placed(record: Any) -> dict[str, Any]:
    plain = _plain(record)
    start, stop = record.start, record.stop
    return {"at": place_clock(start), "to": place_clock(stop), **plain}


def _repaired(repair: Repair) -> dict[str, Any]:
    places = {"at": place_clock(repair.start), "to": place_clock(repair.stop)}
    return {**places, **repair_to_json(repair)}


def _lines(value: Any, indent: str) -> str:
    """Lay out names one a line, and entries of lists one a line."""
    deeper = indent + "  "
    if isinstance(value, dict) and any(isinstance(one, dict | list) for one in value.values()):
        parts = [
            f"{deeper}{json.dumps(name)}: {_lines(one, deeper)}" for name, one in value.items()
        ]
        return "{\n" + ",\n".join(parts) + f"\n{indent}}}"
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "[\n" + ",\n".join(f"{deeper}{_dense(one)}" for one in value) + f"\n{indent}]"
    return _dense(value)


def _dense(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number")
