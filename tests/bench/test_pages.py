"""The bench of pages, small: it runs, and every page is in it. No limit on time."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.routing import Route

from bench import pages
from quietleaf.web.app import make_app
from quietleaf.web.roles import ROLES
from tests.finished import example_station

NOT_PAGES = {
    "/reading/{reading_id}/repairs/{number}/before": "sound, cut out of a reading when asked for",
    "/reading/{reading_id}/repairs/{number}/now": "sound, cut out of a reading when asked for",
    "/reading/{reading_id}/cut/{version}": "sound, cut out of a reading when asked for",
    "/reading/{reading_id}/sound": "sound, cut out of a reading when asked for",
    "/reading/{reading_id}/plan": "of one folder with a real plan, however large the station",
    "/reading/{reading_id}/plan/under-way": "of one folder with a real plan",
    "/plan/station/own": "asked for once",
}


@pytest.mark.bench
def test_each_page_of_a_station_of_a_few_days(tmp_path: Path) -> None:
    figures = pages.measure(tmp_path, length_s=10.0, rounds=3)
    assert figures.readings > 0
    assert all(took_ms > 0.0 for took_ms in figures.median_ms.values())
    assert {*pages.PAGES} <= {*figures.median_ms}
    assert any("over 200 ms" in line for line in pages.report(figures))


def test_every_page_of_the_matrix_is_measured(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        asked = {
            route.path
            for route in make_app(tools).routes
            if isinstance(route, Route) and "GET" in (route.methods or ()) and route.path in ROLES
        }
    assert asked - {*NOT_PAGES} <= {*pages.PAGES}
