"""Decibels, samples, seconds."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietleaf.errors import Invalid
from quietleaf.units import (
    Window,
    clock,
    db_of_power,
    db_of_ratio,
    ratio_of_db,
    samples_of_s,
    seconds_of_clock,
    window_of_text,
)


@pytest.mark.parametrize(
    ("ratio", "level_db"), [(1.0, 0.0), (10.0, 20.0), (0.1, -20.0), (0.0, -math.inf)]
)
def test_ratios_in_decibels_are_those_of_the_definition(ratio: float, level_db: float) -> None:
    assert db_of_ratio(ratio) == pytest.approx(level_db)
    assert ratio_of_db(level_db) == pytest.approx(ratio)


def test_a_power_of_two_is_about_three_decibels() -> None:
    assert db_of_power(2.0) == pytest.approx(3.0103, abs=1e-4)
    assert db_of_power(0.0) == -math.inf


@given(st.integers(min_value=0, max_value=200 * 3600))
def test_a_clock_reads_back(time_s: int) -> None:
    assert seconds_of_clock(clock(time_s)) == time_s


def test_a_place_is_never_named_past_the_thing() -> None:
    assert clock(59.999) == "0:59"


def test_samples_round_to_the_nearest() -> None:
    assert samples_of_s(0.1, 44_100) == 4410
    assert samples_of_s(1 / 3, 48_000) == 16_000


def test_a_window_is_two_times() -> None:
    assert window_of_text("56:00-58:00") == Window(shortest_s=3360.0, longest_s=3480.0)
    assert str(window_of_text("225-285")) == "3:45 to 4:45"


@pytest.mark.parametrize(
    "text", ["", "soon", "-3", "nan", "inf", "1:2", "1:2:3:4", "9" * 400 + ":00"]
)
def test_what_is_no_time_is_refused_in_words(text: str) -> None:
    with pytest.raises(Invalid, match="minutes and seconds, like 56:00"):
        seconds_of_clock(text)


def test_a_window_with_one_time_is_refused() -> None:
    with pytest.raises(Invalid, match="shortest and longest length"):
        window_of_text("56:00")


def test_a_window_the_wrong_way_round_is_refused() -> None:
    with pytest.raises(Invalid, match="begins with its longest"):
        window_of_text("58:00-56:00")
