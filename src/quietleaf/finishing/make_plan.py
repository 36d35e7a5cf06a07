"""Listen, plan: from a survey and what is wished for to the whole plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from quietleaf.finishing.assembly import NO_ITEMS
from quietleaf.finishing.decisions import (
    UNDECIDED,
    Decisions,
    cuts_as_decided,
    refuse_other_sound,
)
from quietleaf.finishing.fit import FitWish, fit_layout
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.loudness import encoder_gain_db, plan_drives
from quietleaf.finishing.plan import Cut, Mp3, Plan
from quietleaf.finishing.plan_repairs import plan_repairs
from quietleaf.finishing.ranges import Ahead, Sound, one_by_one
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.repairs import Repair
from quietleaf.finishing.restart_cuts import restart_cuts
from quietleaf.finishing.resurvey import resurveyed
from quietleaf.finishing.structure import structure_of
from quietleaf.finishing.survey import Survey
from quietleaf.finishing.targets import Target
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.reader_pauses import reader_pauses
from quietleaf.units import Window

MP3_QUALITY = 7
"""No noise shaping: peaks come through nearest to what went in, in half the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What a master is to be.

    Attributes
    ----------
    window : Window or None
        Least and greatest length; None where any will do. What lies outside is fitted into it.
    articles : tuple of int
        Samples of the sound where articles begin.
    span_starts : tuple of int
        Samples of the sound where another take or reader begins.
    dead_air_s : float
        Longer pauses are shortened.
    joins : tuple of int
        Samples of the sound where spans meet.
    one_reader : bool
        One voice reads all of it.
    decided : Decisions
        What the desk decided before: it is kept, and the rest is planned around it.
    exact_s : float or None
        This length and no other, to the sample.
    private : bool
        A private request: it is never stretched nor cut to a length.
    titles : tuple of str
        Of the articles, in their order; empty where they have none.
    offers : tuple of Offer
        The station's short items, to make up a length with.
    """

    target: Target
    ends: Ends
    window: Window | None
    mp3_kbps: int
    articles: tuple[int, ...] = ()
    span_starts: tuple[int, ...] = ()
    dead_air_s: float = HEARING_LIMITS.dead_air_s
    joins: tuple[int, ...] = ()
    one_reader: bool = True
    decided: Decisions = UNDECIDED
    exact_s: float | None = None
    private: bool = False
    titles: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()


def make_plan(
    survey: Survey,
    sound: Sound,
    wishes: Wishes,
    ahead: Ahead = one_by_one,
    heard: Hearing | None = None,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> Plan:
    """Plan a master.

    Parameters
    ----------
    survey : Survey
        Of the whole sound.
    sound : Sound
        The same sound: 48 kHz, one channel.
    ahead : callable
        How blocks are fetched; it does not change them.
    heard : Hearing, optional
        What was heard in it: without, nothing is cut or repaired for what was found.
    items : mapping of str to Sound
        The sounds of the offers, by their key.

    Raises
    ------
    AudioUnfit
        If the sound is silent, holds no voice, or is too short for a loudness.
    Conflict
        If what was decided was decided for another sound.
    """
    refuse_other_sound(wishes.decided, survey.samples)
    restarts, repairs = _for_what_was_heard(survey, sound, heard, wishes.decided)
    whole = repaired(sound, repairs)
    survey = resurveyed(survey, whole, repairs)
    layout = plan_layout(
        survey,
        whole,
        wishes.ends,
        wishes.articles,
        wishes.span_starts,
        wishes.dead_air_s,
        wishes.joins,
        one_reader=wishes.one_reader,
        restarts=restarts,
        decided=wishes.decided,
    )
    layout, fit = fit_layout(replace(layout, repairs=repairs), survey, _fit_wish(wishes))
    drives = plan_drives(layout, survey, sound, wishes.target, wishes.mp3_kbps, ahead, items)
    return Plan(
        target=wishes.target,
        layout=layout,
        wave=drives.wave,
        mp3=Mp3(
            kbps=wishes.mp3_kbps,
            quality=MP3_QUALITY,
            encoder_gain_db=encoder_gain_db(wishes.mp3_kbps),
            drive=drives.mp3,
            dips=(),
            rounds=0,
        ),
        fit=fit,
    )


def _fit_wish(wishes: Wishes) -> FitWish:
    titles = wishes.titles or ("",) * len(wishes.articles)
    return FitWish(
        window=wishes.window,
        exact_s=wishes.exact_s,
        free=wishes.private,
        articles=tuple(zip(wishes.articles, titles, strict=True)),
        joins=wishes.joins,
        offers=wishes.offers,
        decided=wishes.decided.fit,
    )


def _for_what_was_heard(
    survey: Survey, sound: Sound, heard: Hearing | None, decided: Decisions
) -> tuple[tuple[Cut, ...], tuple[Repair, ...]]:
    """Plan the cuts of what was read twice, and the repairs of what is left."""
    structure = structure_of(survey)
    if heard is None or structure is None:
        return (), decided.repairs
    lengths = heard.pauses_s[:, 1] - heard.pauses_s[:, 0]
    usual = reader_pauses(lengths.tolist())
    restarts = restart_cuts(heard.findings, structure, sound, usual)
    cuts = cuts_as_decided(restarts, decided.cuts)
    cut = tuple((one.start, one.stop) for one in cuts if one.state == "made")
    return restarts, plan_repairs(heard, structure, sound, cut, decided.repairs)
