"""Which channel of a recording carries the reader, and how one channel is made of several.

A reading has one channel. A recorder may give two with a microphone on one of them, the same
microphone on both, two microphones, or two readers. One pass collects levels in the band of
speech, 100 ms at a time, and the choice is made from these at the end:

====================================== =========================================================
what the channels carry                what is taken
====================================== =========================================================
nothing (every sample the same)        refused
sound on one alone; on the other none, that one, at full level; nothing of the other is added
or only hiss or hum, or a faint copy
the same on both                       the louder one: a sum would add nothing
the same, one turned round             refused: their sum would be nearly silent, and which wire
                                       is the right way round, a listener cannot tell
one sound, as a stereo pair hears it   the mean: it loses at most 1 dB, and the noises of two
                                       microphones, being different, fall by 3 dB
one sound at two places                the clearer one: added, they would comb each other
two readers who take turns             the sum: each stays as loud as before
different sound at the same time       refused: only a person knows which is wanted
more than two channels                 the clearest, if it carries all the speech
====================================== =========================================================

The limits below were set on recorded voices, rooms and noises; each says what it lies between.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.errors import AudioUnfit
from quietleaf.units import clock

ChannelKind = Literal[
    "only channel",
    "one side",
    "same on both",
    "pair",
    "two places",
    "two readers",
    "one of many",
]
BAND_HZ = (150.0, 4000.0)
"""Where speech is strongest; most of a hum lies below and most of a hiss above."""
FRAMES_PER_S = 10
_LOUD_PERCENTILE = 98.0
_QUIET_PERCENTILE = 10.0
_SPEECH_RANGE_DB = 20.0
_ABSURD = 1e10
"""Whole numbers of 32 bits kept as floats reach 2.1e9; nothing means more."""
_STEADY_DB = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelLimits:
    """Where one case ends and another begins; levels in decibels.

    Attributes
    ----------
    lively_db : float
        Loud frames over quiet ones. Hiss, hum and fans stay under 3, a street at 5, clatter and
        a crackling hiss at 9; speech 12 dB down in a live room begins at 17, a close voice at 28.
    faint_db : float
        A channel whose loud frames lie this far under the other's is crosstalk or a far
        microphone, never a second reader at a microphone of their own.
    same, pair : float
        Correlation from which two channels are one sound; from which they are a stereo pair.
    pair_db : float
        Greatest difference of level of a pair that is averaged.
    turned : float
        Correlation below which the channels cancel.
    turn_db, turn_share, turn_s
        One channel leads by ``turn_db``, each against its own loud frames, in at least this
        share of the speech, and as long as this in all: somebody speaks there.
    turns_share : float
        Share of the speech in which one channel leads, from which two readers take turns. They
        lead in 0.78 and more with 12 dB between the microphones; two that speak at the same
        time in 0.53 and less.
    follow : float
        Correlation of levels from which two channels hear the same from two places. It is 0.33
        and more for those; -0.18 and less for different voices.
    alike_db, clear_db : float
        Two microphones this near in clearness are equal, and so are all that are clearer than
        ``clear_db``: the louder is taken.
    """

    lively_db: float = 12.0
    faint_db: float = 15.0
    same: float = 0.999
    pair: float = 0.9
    pair_db: float = 1.5
    turned: float = -0.7
    turn_db: float = 6.0
    turn_share: float = 0.05
    turn_s: float = 2.0
    turns_share: float = 0.65
    follow: float = 0.2
    alike_db: float = 3.0
    clear_db: float = 50.0


CHANNEL_LIMITS = ChannelLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelChoice:
    """How one channel is made of several.

    Attributes
    ----------
    kind : str
        What the channels were found to carry.
    weights : tuple of float
        What each channel is multiplied with before they are added.
    peak : float
        Greatest magnitude of the result, full scale 1.0; may be more.
    sentence : str
        What was done and why, for the person who brings the recording.
    """

    kind: ChannelKind
    weights: tuple[float, ...]
    peak: float
    sentence: str

    def mono(self, block: NDArray[np.float64]) -> NDArray[np.float64]:
        """Make one channel, shape (n,), of a block of shape (n, c).

        Where one channel is taken, its samples are those of the recording to the bit.
        """
        taken = [channel for channel, weight in enumerate(self.weights) if weight]
        if len(taken) == 1 and self.weights[taken[0]] == 1.0:
            return block[:, taken[0]]
        return np.asarray(block @ np.array(self.weights))


@dataclass(slots=True, kw_only=True)
class ChannelState:
    """What the pass keeps: at most 6 MB for ten hours of two channels."""

    sample_rate_hz: int
    sections: NDArray[np.float64]
    memory: NDArray[np.float64]
    first: NDArray[np.float64] | None = None
    moves: NDArray[np.bool_]
    peaks: NDArray[np.float64]
    sum_peak: float = 0.0
    rest: NDArray[np.float64]
    powers: list[NDArray[np.float32]] = field(default_factory=list)
    products: list[NDArray[np.float32]] = field(default_factory=list)


def start(sample_rate_hz: int, channels: int) -> ChannelState:
    """Begin a pass over a recording."""
    highest_hz = min(BAND_HZ[1], 0.45 * sample_rate_hz)
    sections = np.concatenate(
        [
            butter(2, BAND_HZ[0], "highpass", fs=sample_rate_hz, output="sos"),
            butter(2, highest_hz, "lowpass", fs=sample_rate_hz, output="sos"),
        ]
    )
    return ChannelState(
        sample_rate_hz=sample_rate_hz,
        sections=sections,
        memory=np.zeros((len(sections), 2, channels)),
        moves=np.zeros(channels, dtype=np.bool_),
        peaks=np.zeros(channels),
        rest=np.zeros((0, channels)),
    )


def step(state: ChannelState, block: NDArray[np.float64]) -> ChannelState:
    """Take the next block of shape (n, c), full scale 1.0, finite; any cutting gives the same.

    Raises
    ------
    AudioUnfit
        If a sample is so large that it cannot be meant.
    """
    if not len(block):
        return state
    if state.first is None:
        state.first = block[0].copy()
    peaks = np.abs(block).max(axis=0)
    if peaks.max() > _ABSURD:
        raise AudioUnfit(
            "channels/level",
            "A recording's samples lie between -1 and 1 or not far beyond; this one has some past "
            "ten thousand million. Export it again as 24-bit WAV.",
        )
    np.maximum(state.peaks, peaks, out=state.peaks)
    state.moves |= (block != state.first).any(axis=0)
    if block.shape[1] == 2:
        state.sum_peak = max(state.sum_peak, float(np.abs(block.sum(axis=1)).max()))
    if block.shape[1] == 1:
        return state
    heard, state.memory = sosfilt(state.sections, block, axis=0, zi=state.memory)
    frame = state.sample_rate_hz // FRAMES_PER_S
    waiting = np.concatenate([state.rest, heard])
    whole = len(waiting) // frame * frame
    _measure(state, waiting[:whole].reshape(-1, frame, block.shape[1]))
    state.rest = waiting[whole:].copy()
    return state


def result(state: ChannelState, limits: ChannelLimits = CHANNEL_LIMITS) -> ChannelChoice:
    """Choose, when all blocks were taken.

    Raises
    ------
    AudioUnfit
        If no channel carries sound, two cancel each other, or only a person can choose. The
        sentence says what to do.
    """
    live = np.flatnonzero(state.moves)
    if not len(live):
        raise AudioUnfit(
            "channels/silent",
            "A recording needs sound in it; every sample of this one is the same. "
            "See whether the microphone was connected, and record again.",
        )
    channels = len(state.moves)
    if channels == 1:
        return ChannelChoice(
            kind="only channel",
            weights=(1.0,),
            peak=float(state.peaks[0]),
            sentence="It has one channel.",
        )
    if len(live) == 1:
        return _one(state, int(live[0]), "nothing at all")
    if not state.powers:
        # Shorter than a frame: what there is must do.
        _measure(state, state.rest[np.newaxis])
    powers = np.concatenate(state.powers)
    levels = 10.0 * np.log10(np.maximum(powers, np.finfo(np.float32).tiny))
    return (_of_two if channels == 2 else _of_many)(state, levels, limits)


def choose_channel(
    blocks: list[NDArray[np.float64]], sample_rate_hz: int, limits: ChannelLimits = CHANNEL_LIMITS
) -> ChannelChoice:
    """Choose for a recording that is at hand whole.

    Examples
    --------
    >>> seconds = np.arange(48_000) / 48_000
    >>> tone = 0.1 * np.sin(2 * np.pi * 440 * seconds)
    >>> choose_channel([np.column_stack([tone, 0 * tone])], 48_000).weights
    (1.0, 0.0)
    """
    state = start(sample_rate_hz, blocks[0].shape[1])
    for block in blocks:
        state = step(state, block)
    return result(state, limits)


def _measure(state: ChannelState, frames: NDArray[np.float64]) -> None:
    if not len(frames):
        return
    state.powers.append(np.mean(frames**2, axis=1).astype(np.float32))
    if frames.shape[2] == 2:
        product = np.mean(frames[:, :, 0] * frames[:, :, 1], axis=1)
        state.products.append(product.astype(np.float32))


def _of_two(
    state: ChannelState, levels: NDArray[np.float64], limits: ChannelLimits
) -> ChannelChoice:
    loud, quiet = _loud_and_quiet(levels)
    lively = loud - quiet >= limits.lively_db
    louder = int(loud[1] > loud[0])
    apart_db = float(abs(loud[0] - loud[1]))
    if lively[0] != lively[1]:
        taken = int(lively[1])
        return _one(state, taken, _steady(levels[:, taken], levels[:, 1 - taken], limits))
    speaking = _speaking(levels, loud, quiet)
    correlation = _correlation(state, speaking)
    if correlation >= limits.same:
        return ChannelChoice(
            kind="same on both",
            weights=_weights(2, louder),
            peak=float(state.peaks[louder]),
            sentence=f"Both channels carry the same; the {_side(louder, 2)} was taken.",
        )
    turns, taking_turns = _turns(levels, loud, quiet, limits)
    if turns.all() and taking_turns:
        return _both(state)
    if apart_db >= limits.faint_db:
        return _one(state, louder, f"the same {apart_db:.0f} dB fainter")
    if correlation <= limits.turned:
        raise AudioUnfit(
            "channels/cancel",
            "The two channels cancel each other: one of them is turned round, so that together "
            "they would be nearly silent. Swap the two wires of one side and record again, or "
            "export one channel alone and bring that in.",
        )
    if correlation >= limits.pair and apart_db <= limits.pair_db:
        return ChannelChoice(
            kind="pair",
            weights=(0.5, 0.5),
            peak=state.sum_peak / 2.0,
            sentence="Both channels hear one sound as a pair; their mean was taken.",
        )
    if _follow((levels - loud)[speaking], limits):
        taken = _clearest(loud, quiet, np.arange(2), limits)
        return ChannelChoice(
            kind="two places",
            weights=_weights(2, taken),
            peak=float(state.peaks[taken]),
            sentence="Both channels hear the same from two places, and would blur each other if "
            f"they were added; the {_side(taken, 2)} is clearer and was taken.",
        )
    raise _different()


def _of_many(
    state: ChannelState, levels: NDArray[np.float64], limits: ChannelLimits
) -> ChannelChoice:
    """Take the clearest, if no other has speech that this one has not."""
    channels = levels.shape[1]
    loud, quiet = _loud_and_quiet(levels)
    lively = state.moves & (loud - quiet >= limits.lively_db)
    carriers = np.flatnonzero(lively if lively.any() else state.moves)
    taken = _clearest(loud, quiet, carriers, limits)
    for other in carriers:
        pair = np.array([taken, other])
        turns, _ = _turns(levels[:, pair], loud[pair], quiet[pair], limits)
        if other != taken and turns[1]:
            raise _different()
    return ChannelChoice(
        kind="one of many",
        weights=_weights(channels, taken),
        peak=float(state.peaks[taken]),
        sentence=f"Of its {channels} channels the {_side(taken, channels)} is the clearest and "
        "was taken, at full level; nothing of the others was added.",
    )


def _loud_and_quiet(
    levels: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    loud, quiet = np.percentile(
        levels, (_LOUD_PERCENTILE, _QUIET_PERCENTILE), axis=0, method="nearest"
    )
    return loud, quiet


def _speaking(
    levels: NDArray[np.float64], loud: NDArray[np.float64], quiet: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell the frames in which any channel is nearer to its loud frames than to its quiet."""
    middle = np.minimum((loud + quiet) / 2.0, loud - _STEADY_DB)
    return np.asarray((levels >= np.maximum(middle, loud - _SPEECH_RANGE_DB)).any(axis=1))


def _correlation(state: ChannelState, speaking: NDArray[np.bool_]) -> float:
    """Correlate two channels in the band of speech, while somebody speaks."""
    powers = np.concatenate(state.powers)[speaking].sum(axis=0, dtype=np.float64)
    product = np.concatenate(state.products)[speaking].sum(dtype=np.float64)
    scale = float(np.sqrt(powers.prod()))
    return float(product) / scale if scale > 0.0 else 0.0


def _turns(
    levels: NDArray[np.float64],
    loud: NDArray[np.float64],
    quiet: NDArray[np.float64],
    limits: ChannelLimits,
) -> tuple[NDArray[np.bool_], bool]:
    """Tell of each of two channels whether somebody speaks there and not at the other.

    The second answer is whether it is nearly always one or the other, as when two take turns.
    By whole seconds: a word's gap, or a room that goes on sounding, is nobody's turn.
    """
    whole = len(levels) // FRAMES_PER_S * FRAMES_PER_S
    seconds = np.mean(10.0 ** (levels[:whole].reshape(-1, FRAMES_PER_S, 2) / 10.0), axis=1)
    levels = 10.0 * np.log10(seconds)
    relative = (levels - loud)[_speaking(levels, loud, quiet)]
    difference_db = relative[:, 0] - relative[:, 1]
    lead_s = np.array(
        [np.sum(difference_db > limits.turn_db), np.sum(difference_db < -limits.turn_db)]
    )
    enough_s = max(limits.turn_share * len(difference_db), limits.turn_s)
    return lead_s >= enough_s, bool(lead_s.sum() >= limits.turns_share * len(difference_db))


def _follow(relative: NDArray[np.float64], limits: ChannelLimits) -> bool:
    """Tell whether two channels rise and fall together."""
    spread = relative.std(axis=0)
    if not spread.all():
        return False
    moved = relative - relative.mean(axis=0)
    return float(np.mean(moved[:, 0] * moved[:, 1]) / spread.prod()) >= limits.follow


def _clearest(
    loud: NDArray[np.float64],
    quiet: NDArray[np.float64],
    carriers: NDArray[np.intp],
    limits: ChannelLimits,
) -> int:
    """Find the channel with the most speech over its noise; of equals the loudest."""
    clear_db = np.minimum(loud - quiet, limits.clear_db)[carriers]
    equals = carriers[clear_db >= clear_db.max() - limits.alike_db]
    return int(equals[np.argmax(loud[equals])])


def _steady(taken: NDArray[np.float64], other: NDArray[np.float64], limits: ChannelLimits) -> str:
    """Describe a channel that is left out, with all that is in it."""
    quiet = np.percentile(other, _QUIET_PERCENTILE, method="nearest")
    frames = int(np.sum((other > taken) & (other > quiet + limits.lively_db)))
    if frames < limits.turn_s * FRAMES_PER_S:
        return "only hiss or hum"
    return (
        f"hiss or hum, and for {clock(frames / FRAMES_PER_S)} in all something louder, which was "
        "left out: hear it in the recording itself"
    )


def _one(
    state: ChannelState, taken: int, other: str, kind: Literal["one side"] = "one side"
) -> ChannelChoice:
    channels = len(state.moves)
    return ChannelChoice(
        kind=kind,
        weights=_weights(channels, taken),
        peak=float(state.peaks[taken]),
        sentence=f"The {_side(taken, channels)} carries the sound and was taken at full level; "
        f"{'the other' if channels == 2 else 'the others'}: {other}.",
    )


def _both(state: ChannelState) -> ChannelChoice:
    return ChannelChoice(
        kind="two readers",
        weights=(1.0, 1.0),
        peak=state.sum_peak,
        sentence="Two readers take turns, each on a channel; the channels were added, and each "
        "reader stays as loud as before.",
    )


def _different() -> AudioUnfit:
    return AudioUnfit(
        "channels/different",
        "The channels carry different sound at the same time, and only you know which is wanted. "
        "Export the reader's channel alone and bring that in.",
    )


def _weights(channels: int, taken: int) -> tuple[float, ...]:
    return tuple(float(channel == taken) for channel in range(channels))


def _side(channel: int, channels: int) -> str:
    if channels == 2:
        return ("left channel", "right channel")[channel]
    return f"channel {channel + 1}"
