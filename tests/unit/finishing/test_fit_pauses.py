"""A difference spread over pauses: exact, within their bounds, each keeping its rank."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from quietleaf.finishing.fit_pauses import LAST, NATURAL, WIDE, Bounds, Pause, room_of, spread
from quietleaf.finishing.plan import RATE_HZ

KINDS = st.sampled_from(["sentence", "paragraph", "article", "phrase"])


def pause(start: int, samples: int, kind: str = "sentence", free: int | None = None) -> Pause:
    room = samples - 4_000 if free is None else free
    return Pause(
        kind=kind,  # type: ignore[arg-type]
        start=start,
        stop=start + samples,
        free=(start + 2_000, start + 2_000 + room),
    )


@st.composite
def several(draw: st.DrawFn) -> list[Pause]:
    lengths = draw(st.lists(st.integers(16_800, 200_000), min_size=1, max_size=40))
    return [
        pause(1_000_000 * number, length, draw(KINDS), draw(st.integers(1_920, length - 4_000)))
        for number, length in enumerate(lengths)
    ]


@settings(max_examples=200, deadline=None)
@given(
    pauses=several(),
    share=st.floats(0.0, 1.0),
    longer=st.booleans(),
    bounds=st.sampled_from([NATURAL, WIDE, LAST]),
)
def test_a_change_is_met_to_the_sample_and_no_pause_leaves_its_bounds(
    pauses: list[Pause], share: float, longer: bool, bounds: Bounds
) -> None:
    change = round(share * room_of(pauses, bounds, longer=longer)) * (1 if longer else -1)
    lengths = spread(pauses, change, bounds)
    assert sum(length - one.samples for one, length in lengths.items()) == change
    for one, length in lengths.items():
        assert one.least(bounds) <= length <= one.most(bounds)
        assert one.samples - length <= one.free[1] - one.free[0]
        assert length >= min(one.samples, round(bounds.shortest_s * RATE_HZ))
        assert length <= max(one.samples, round((3.0 if one.kind == "article" else 2.0) * RATE_HZ))


def test_a_pause_keeps_its_rank_and_sentences_go_first() -> None:
    pauses = [pause(100_000 * n, 20_000 + 1_500 * n) for n in range(12)]
    pauses.append(pause(5_000_000, 96_000, "article"))
    lengths = spread(pauses, 48_000, NATURAL)
    assert pauses[-1] not in lengths
    ordered = [lengths[one] for one in pauses[:-1]]
    assert ordered == sorted(ordered)
    factors = [lengths[one] / one.samples for one in pauses[:-1]]
    assert max(factors) - min(factors) < 1e-3


def test_a_few_samples_move_one_pause() -> None:
    pauses = [pause(100_000 * n, 20_000 + 1_500 * n) for n in range(12)]
    assert spread(pauses, -7, NATURAL) == {pauses[-1]: pauses[-1].samples - 7}
