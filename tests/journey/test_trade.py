"""Facts of the trade that are true by default. Common practice, no source, unless one is named."""

from quietleaf.cli.demo import STATION_FILE
from quietleaf.planning.programme import HOUR_SLOT_S, HOUR_WINDOW
from quietleaf.storage.station_file import read_station

STATION = read_station(STATION_FILE)


def test_an_hours_slot_is_read_to_56_to_58_minutes() -> None:
    """Common practice, no source."""
    assert (HOUR_WINDOW.shortest_s, HOUR_WINDOW.longest_s) == (56 * 60, 58 * 60)
    hours = [one for one in STATION.programmes if one.slot_s == HOUR_SLOT_S]
    assert hours
    assert all(programme.window == HOUR_WINDOW for programme in hours)


def test_a_private_request_has_no_limit_of_length() -> None:
    """Common practice, no source."""
    (request,) = (one for one in STATION.programmes if one.key == "private-request")
    assert request.slot_s is None
    assert request.window is None
