"""What was done to bring a programme to its length, in words."""

from __future__ import annotations

from quietleaf.delivery.report import Deed
from quietleaf.finishing.fit_entries import StopPlace
from quietleaf.finishing.plan import RATE_HZ, Fit, Plan
from quietleaf.units import clock


def deeds_of_fit(plan: Plan) -> tuple[Deed, ...]:
    """Say step by step how the length was met, or why it was not; nothing where none was wanted."""
    fit, layout = plan.fit, plan.layout
    if fit.wanted_samples is None:
        return _deeds_of_stops(fit)
    wanted = clock(fit.wanted_samples / RATE_HZ)
    met = fit.verdict in ("fits", "free")
    deeds = [Deed(text=f"{'Fitted to' if met else 'Not fitted to'} {wanted}", reason=fit.reason)]
    pauses = [one.change for one in layout.pauses if one.change]
    if pauses:
        deeds.append(
            Deed(
                text=f"{_count(len(pauses), 'pause')} made {_way(sum(pauses))}, by "
                f"{_seconds(sum(pauses))} in all",
                reason="each between what readers do themselves, by one factor: room tone is "
                "left out or laid, no breath and no word is touched",
            )
        )
    paced = [one for one in layout.pace if one.change]
    if paced:
        change = sum(one.change for one in paced)
        share = change / sum(one.stop - one.start for one in paced)
        way = "slower" if change > 0 else "faster"
        deeds.append(
            Deed(
                text=f"Speech {abs(share) * 100.0:.1f} % {way}, by {_seconds(change)} in all",
                reason="single periods of the voice are repeated or left out; its pitch stays",
            )
        )
    deeds += [
        Deed(text=f"{item.title} laid after the reading", reason=item.reason)
        for item in layout.items
        if item.state == "made"
    ]
    return (*deeds, *_deeds_of_stops(fit))


def _deeds_of_stops(fit: Fit) -> tuple[Deed, ...]:
    """Say where it stops, as the desk chose; where nobody chose, where it could."""
    chosen = [
        Deed(text=f"It stops at {_at(stop)}, as the desk chose", reason=_left_out(stop))
        for stop in fit.stops
        if stop.state == "made"
    ]
    offered = [
        Deed(
            text=f"It could stop at {_at(stop)}, and be {clock(stop.length_s)} long",
            reason=_left_out(stop),
        )
        for stop in fit.stops
        if stop.state == "left"
    ]
    return tuple(chosen or offered)


def _at(stop: StopPlace) -> str:
    return clock(stop.sample / RATE_HZ)


def _left_out(stop: StopPlace) -> str:
    return f"an article ends there; that leaves out {', '.join(stop.leaves_out)}"


def _count(number: int, name: str) -> str:
    return f"{number} {name}{'s' * (number != 1)}"


def _way(change: int) -> str:
    return "longer" if change > 0 else "shorter"


def _seconds(samples: int) -> str:
    return f"{abs(samples) / RATE_HZ:.2f} s"
