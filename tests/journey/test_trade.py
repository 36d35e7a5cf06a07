"""Facts of the trade that are true by default. Common practice, no source, unless one is named."""

from pathlib import Path

from quietleaf.booth.edits import Again, TakeRolled
from quietleaf.booth.replay import timeline
from quietleaf.booth.timeline import Span
from quietleaf.cli.demo import STATION_FILE
from quietleaf.planning.programme import HOUR_SLOT_S, HOUR_WINDOW
from quietleaf.storage.station_file import read_station
from tests.readings import sealed, standing_of

STATION = read_station(STATION_FILE)


def test_an_hours_slot_is_read_to_56_to_58_minutes() -> None:
    """Common practice, no source."""
    assert (HOUR_WINDOW.shortest_s, HOUR_WINDOW.longest_s) == (56 * 60, 58 * 60)
    hours = [one for one in STATION.programmes if one.slot_s == HOUR_SLOT_S]
    assert hours
    assert all(programme.window == HOUR_WINDOW for programme in hours)


def test_an_hours_slot_that_names_no_window_has_that_one(tmp_path: Path) -> None:
    """Common practice, no source."""
    own = tmp_path / "station.toml"
    own.write_text(
        STATION_FILE.read_text("utf-8").replace("window_s = [3360, 3480]\n", ""), "utf-8"
    )
    assert read_station(own).programmes == STATION.programmes


def test_a_private_request_has_no_limit_of_length() -> None:
    """Common practice, no source."""
    (request,) = (one for one in STATION.programmes if one.key == "private-request")
    assert request.slot_s is None
    assert request.window is None


def test_a_mend_replaces_the_whole_sentence() -> None:
    """Common practice, no source: the sentence is read again from its start, and none of the
    first try stays, neither what came before the stumble nor what was said while pressing."""
    sentence_start, stumble, read_again, end = 96_000, 240_000, 288_000, 480_000
    standing = standing_of(
        TakeRolled(take=1, sample_rate_hz=48_000),
        Again(take=1, mark=stumble, back_take=1, back_sample=sentence_start, resume=read_again),
        sealed(1, end),
    )
    assert timeline(standing).spans == (
        Span(take=1, start=0, stop=sentence_start),
        Span(take=1, start=read_again, stop=end),
    )
