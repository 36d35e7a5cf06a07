"""What stands between a reading and its clearing, and who may decide about it."""

from __future__ import annotations

from collections.abc import Sequence

from quietleaf.booth.reading import ReadingFacts, ReadingState
from quietleaf.delivery.report import ReportFacts
from quietleaf.delivery.report_words import begun, counted
from quietleaf.errors import Conflict, NotAllowed
from quietleaf.planning.programme import Programme, ReviewDepth
from quietleaf.units import clock
from quietleaf.work.heard_sound import HeardSound
from quietleaf.work.things_to_decide import Thing

DESK = "The desk"
"""Who decides at a station's own machine where there are no accounts."""

_ELSEWHERE: dict[ReadingState, str] = {
    "assigned": "It has not been read yet.",
    "in the booth": "It is being read, and not handed in yet.",
    "returned": "It went back to its reader. Take the return back to decide about it here.",
    "cleared": "It is cleared. Take that back to decide about it again.",
    "placed": "It has its place on the air. Return it, or take its place from it first.",
    "aired": "It has been on the air.",
}


def is_own(facts: ReadingFacts, programme: Programme | None, who: str) -> bool:
    """Say whether somebody read it, in a programme that wants another reviewer.

    A station without accounts does not know who anybody is: nobody is kept from anything there.
    """
    readers = {reader.casefold() for reader in facts.readers}
    return programme is not None and programme.other_reviewer and who.casefold() in readers


def refuse_own(facts: ReadingFacts, programme: Programme | None, who: str) -> None:
    """Refuse somebody who read it, in a programme that wants another reviewer.

    Raises
    ------
    NotAllowed
    """
    if is_own(facts, programme, who):
        raise NotAllowed(
            "review/own",
            f"{facts.programme_title} is reviewed by somebody other than its reader, and you read "
            "this. Ask a colleague to clear it, or to return it.",
        )


def refuse_elsewhere(state: ReadingState) -> None:
    """Refuse to decide about a reading that is not on the desk.

    Raises
    ------
    Conflict
    """
    if state != "handed in":
        raise Conflict("review/elsewhere", f"Nothing was entered. {_ELSEWHERE[state]}")


def what_hinders(
    things: Sequence[Thing], heard: HeardSound, review: ReviewDepth, *, is_under_way: bool
) -> tuple[str, ...]:
    """Say why a reading cannot be cleared yet, a sentence each; nothing where it can.

    Parameters
    ----------
    is_under_way : bool
        It is being finished, or waits for it.
    """
    told: list[str] = []
    if is_under_way:
        told.append("It is being finished: what comes of that is to be heard first.")
    elif heard.is_outdated:
        told.append(
            "It was changed since it was finished. Finish it again: what goes out is to be what "
            "was heard."
        )
    elif not heard.is_heard and review != "none":
        told.append("Nobody has listened to it yet. Finish it: that is when the station listens.")
    undecided = [thing for thing in things if thing.decided is None and thing.asks(review)]
    if undecided:
        count = counted(len(undecided), "thing is", "things are")
        where = "at" if len(undecided) == 1 else "the first at"
        told.append(begun(f"{count} not decided yet, {where} {clock(undecided[0].start_s)}."))
    again = [one for one in things if one.decided and one.decided.what.decision == "read again"]
    if again:
        count = counted(len(again), "place is", "places are")
        told.append(begun(f"{count} to be read again: return it, or decide otherwise."))
    unmade = [one for one in things if not one.is_made and one not in again]
    if unmade:
        count = counted(len(unmade), "decision is", "decisions are")
        where = "at" if len(unmade) == 1 else "the first at"
        told.append(
            begun(
                f"{count} not carried out yet, {where} {clock(unmade[0].start_s)}: finish it, or "
                "decide otherwise."
            )
        )
    return tuple(told)


def speaks_against(heard: HeardSound, report: ReportFacts | None) -> tuple[str, ...]:
    """Say what speaks against sending it out that no decision about a place mends."""
    told = [ground.text for ground in heard.grounds if ground.weight == "again"]
    if heard.plan is None or report is None:
        return tuple(told)
    fit = heard.plan.fit
    if fit.difference_s:
        window = "" if fit.window is None else f" for its window of {fit.window}"
        told.append(f"It is {clock(abs(fit.difference_s))} too {fit.verdict}{window}.")
    missed = [figure.name for figure in report.figures if figure.met is False]
    if missed:
        told.append(f"Not as asked for: {', '.join(missed)}.")
    return tuple(told)
