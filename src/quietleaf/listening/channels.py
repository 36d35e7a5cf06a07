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

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.listening.channel_levels import (
    FRAMES_PER_S,
    ChannelLevels,
    ChannelState,
    correlation,
    following,
    heard,
    lead_shares,
    start,
    step,
)
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
    return (_of_two if channels == 2 else _of_many)(state, heard(state), limits)


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


def _of_two(state: ChannelState, channels: ChannelLevels, limits: ChannelLimits) -> ChannelChoice:
    loud = channels.loud
    lively = loud - channels.quiet >= limits.lively_db
    louder = int(loud[1] > loud[0])
    apart_db = float(abs(loud[0] - loud[1]))
    if lively[0] != lively[1]:
        taken = int(lively[1])
        return _one(state, taken, _steady(channels, taken, limits))
    alike = correlation(channels)
    if alike >= limits.same and apart_db < limits.faint_db:
        return ChannelChoice(
            kind="same on both",
            weights=_weights(2, louder),
            peak=float(state.peaks[louder]),
            sentence=f"Both channels carry the same; {_side(louder, 2)} was taken.",
        )
    if _take_turns(channels, limits):
        return _both(state)
    if apart_db >= limits.faint_db:
        return _one(state, louder, f"the same {apart_db:.0f} dB fainter")
    if alike <= limits.turned:
        raise AudioUnfit(
            "channels/cancel",
            "The two channels cancel each other: one of them is turned round, so that together "
            "they would be nearly silent. Swap the two wires of one side and record again, or "
            "export one channel alone and bring that in.",
        )
    if alike >= limits.pair and apart_db <= limits.pair_db:
        return ChannelChoice(
            kind="pair",
            weights=(0.5, 0.5),
            peak=state.sum_peak / 2.0,
            sentence="Both channels hear one sound as a pair; their mean was taken.",
        )
    if following(channels) >= limits.follow:
        taken = _clearest(channels, np.arange(2), limits)
        return ChannelChoice(
            kind="two places",
            weights=_weights(2, taken),
            peak=float(state.peaks[taken]),
            sentence="Both channels hear the same from two places, and would blur each other if "
            f"they were added; {_side(taken, 2)} is clearer and was taken.",
        )
    raise _different()


def _of_many(state: ChannelState, channels: ChannelLevels, limits: ChannelLimits) -> ChannelChoice:
    """Take the clearest, if no other has speech that this one has not."""
    count = len(state.moves)
    lively = state.moves & (channels.loud - channels.quiet >= limits.lively_db)
    carriers = np.flatnonzero(lively if lively.any() else state.moves)
    taken = _clearest(channels, carriers, limits)
    for other in carriers:
        pair = channels.of(np.array([taken, other]))
        if other != taken and _turns(pair, limits)[1]:
            raise _different()
    return ChannelChoice(
        kind="one of many",
        weights=_weights(count, taken),
        peak=float(state.peaks[taken]),
        sentence=f"Of its {count} channels {_side(taken, count)} is the clearest and "
        "was taken, at full level; nothing of the others was added.",
    )


def _turns(channels: ChannelLevels, limits: ChannelLimits) -> NDArray[np.bool_]:
    """Tell of each of two channels whether somebody speaks there and not at the other."""
    shares, speech_s = lead_shares(channels, limits.turn_db)
    return np.asarray((shares >= limits.turn_share) & (shares * speech_s >= limits.turn_s))


def _take_turns(channels: ChannelLevels, limits: ChannelLimits) -> bool:
    """Tell whether somebody speaks at each, and nearly always at one or the other."""
    shares, _ = lead_shares(channels, limits.turn_db)
    return bool(_turns(channels, limits).all() and shares.sum() >= limits.turns_share)


def _clearest(channels: ChannelLevels, carriers: NDArray[np.intp], limits: ChannelLimits) -> int:
    """Find the channel with the most speech over its noise; of equals the loudest."""
    clear_db = np.minimum(channels.loud - channels.quiet, limits.clear_db)[carriers]
    equals = carriers[clear_db >= clear_db.max() - limits.alike_db]
    return int(equals[np.argmax(channels.loud[equals])])


def _steady(channels: ChannelLevels, taken: int, limits: ChannelLimits) -> str:
    """Describe the channel of two that is left out, with all that is in it."""
    other = channels.levels[:, 1 - taken]
    louder = other > channels.levels[:, taken]
    frames = int(np.sum(louder & (other > channels.quiet[1 - taken] + limits.lively_db)))
    if frames < limits.turn_s * FRAMES_PER_S:
        return "only hiss or hum"
    return (
        f"hiss or hum, and for {clock(frames / FRAMES_PER_S)} in all something louder, which was "
        "left out: hear it in the recording itself"
    )


def _one(state: ChannelState, taken: int, other: str) -> ChannelChoice:
    count = len(state.moves)
    return ChannelChoice(
        kind="one side",
        weights=_weights(count, taken),
        peak=float(state.peaks[taken]),
        sentence=f"{_side(taken, count).capitalize()} carries the sound and was taken at full "
        f"level; {'the other' if count == 2 else 'the others'}: {other}.",
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
        return ("the left channel", "the right channel")[channel]
    return f"channel {channel + 1}"
