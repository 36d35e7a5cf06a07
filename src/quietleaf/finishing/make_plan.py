"""Listen, plan: from a survey and what is wished for to the whole plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from quietleaf.errors import Invalid
from quietleaf.finishing.assembly import NO_ITEMS
from quietleaf.finishing.at_places import cuts_at_places, repairs_at_places
from quietleaf.finishing.decisions import (
    UNDECIDED,
    Decisions,
    cuts_as_decided,
    refuse_other_sound,
)
from quietleaf.finishing.desk_cuts import desk_cuts
from quietleaf.finishing.fit import FitWish, fit_layout
from quietleaf.finishing.fit_entries import StopPlace
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.fit_stops import chosen_stop, closing_word, stop_cut, with_chosen
from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.loudness import encoder_gain_db, plan_drives
from quietleaf.finishing.plan import Cut, Layout, Mp3, Plan
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
from quietleaf.listening.reader_pauses import UNKNOWN, ReaderPauses, reader_pauses
from quietleaf.listening.structure import Structure
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
    closing : int or None
        Sample of the sound at which the closing words were marked.
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
    closing: int | None = None


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
    Invalid
        If a private request was to be stopped before its end.
    """
    refuse_other_sound(wishes.decided, survey.samples)
    usual = _usual_pauses(heard)
    restarts, repairs = _for_what_was_heard(survey, sound, heard, usual, wishes.decided)
    whole = repaired(sound, repairs)
    survey = resurveyed(survey, whole, repairs)
    structure = structure_of(survey)

    def layout_without(cuts: tuple[Cut, ...]) -> Layout:
        layout = plan_layout(
            survey,
            whole,
            wishes.ends,
            wishes.articles,
            wishes.span_starts,
            wishes.dead_air_s,
            wishes.joins,
            one_reader=wishes.one_reader,
            restarts=cuts,
            decided=wishes.decided,
        )
        return replace(layout, repairs=repairs)

    wish = _fit_wish(wishes, structure)
    layout = layout_without(restarts)
    chosen = _chosen_stop(layout, wishes, wish)
    if chosen is None or structure is None:
        layout, fit = fit_layout(layout, survey, wish)
    else:
        _, unstopped = fit_layout(layout, survey, wish)
        cut = stop_cut(chosen, structure, whole, usual, wish.closing)
        layout = layout_without(restarts if cut is None else (*restarts, cut))
        layout, fit = fit_layout(layout, survey, wish)
        fit = replace(fit, stops=with_chosen(unstopped.stops, chosen))
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


def _fit_wish(wishes: Wishes, structure: Structure | None) -> FitWish:
    titles = wishes.titles or ("",) * len(wishes.articles)
    return FitWish(
        window=wishes.window,
        exact_s=wishes.exact_s,
        free=wishes.private,
        articles=tuple(zip(wishes.articles, titles, strict=True)),
        joins=wishes.joins,
        offers=wishes.offers,
        decided=wishes.decided.fit,
        at_places=wishes.decided.at_places,
        closing=None if structure is None else closing_word(structure, wishes.closing),
    )


def _chosen_stop(layout: Layout, wishes: Wishes, wish: FitWish) -> StopPlace | None:
    decided = wishes.decided
    chosen = chosen_stop(layout, wish.articles, decided.fit.stops, decided.at_places, wish.closing)
    if chosen is not None and wishes.private:
        raise Invalid(
            "finish/private-stop",
            "A private request has no slot: it is never stopped before its end. Take the decision "
            "to stop it back.",
        )
    return chosen


def _usual_pauses(heard: Hearing | None) -> ReaderPauses:
    if heard is None:
        return UNKNOWN
    lengths = heard.pauses_s[:, 1] - heard.pauses_s[:, 0]
    return reader_pauses(lengths.tolist())


def _for_what_was_heard(
    survey: Survey, sound: Sound, heard: Hearing | None, usual: ReaderPauses, decided: Decisions
) -> tuple[tuple[Cut, ...], tuple[Repair, ...]]:
    """Plan the cuts of what was read twice, and the repairs of what is left."""
    structure = structure_of(survey)
    if heard is None or structure is None:
        return (), decided.repairs
    found = restart_cuts(heard.findings, structure, sound, usual)
    restarts = cuts_at_places(found, decided.at_places)
    restarts += desk_cuts(decided.at_places, restarts, structure, sound, usual)
    cuts = cuts_as_decided(restarts, decided.cuts)
    cut = tuple((one.start, one.stop) for one in cuts if one.state == "made")
    repairs = plan_repairs(heard, structure, sound, cut, decided.repairs)
    return restarts, repairs_at_places(repairs, decided.at_places)
