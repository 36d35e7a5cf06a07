"""Each page of a large station: the server's time for it, from request to the last byte.

Asked of the station in this process, so that neither a browser nor a network is in the figures.
Asked for: 200 ms at the median.
"""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from bench.large_station import TODAY, YEARS, make_large_station
from bench.measure import machine
from quietleaf.storage.reading_folder import find_reading
from quietleaf.web.app import make_app
from quietleaf.web.coming_pages import BOOTH_COOKIE, SITTING_COOKIE
from quietleaf.web.entry import SESSION_COOKIE
from quietleaf.work.accounts import add_account
from quietleaf.work.enrol_booth import enrol_booth, make_enrolment
from quietleaf.work.personal_links import make_link
from quietleaf.work.sign_in import Doorkeeper, sign_in
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools
from tests.finished import finish_reading

if TYPE_CHECKING:
    from starlette.testclient import TestClient

MEDIAN_MS_MOST = 200.0
ROUNDS = 9
PASSWORD = "four quiet leaves fall"
READER = "Reader 7"
PAGES = {
    "/": "/",
    "/day/{day}": f"/day/{TODAY}",
    "/day/{day}/board": f"/day/{TODAY}/board",
    "/reading/{reading_id}": "/reading/{reading}",
    "/reading/{reading_id}/files/{name}": "/reading/{reading}/files/report.html",
    "/plan": "/plan?page=3",
    "/plan/station": "/plan/station",
    "/plan/programmes/new": "/plan/programmes/new",
    "/plan/programmes/{key}": "/plan/programmes/programme-7",
    "/plan/publications/new": "/plan/publications/new",
    "/plan/publications/{key}": "/plan/publications/publication-7",
    "/plan/readers/new": "/plan/readers/new",
    "/plan/readers/{key}": f"/plan/readers/{READER}",
    "/plan/readers/{name}/link": f"/plan/readers/{READER}/link",
    "/plan/booths/new": "/plan/booths/new",
    "/plan/booths/{key}": "/plan/booths/booth-1",
    "/plan/booths/{key}/enrol": "/plan/booths/booth-1/enrol",
    "/plan/assignments/new": f"/plan/assignments/new?programme=programme-0&air={TODAY}",
    "/plan/assignments/{key}": "/plan/assignments/{assignment}",
    "/people": "/people?page=2",
    "/people/{name}": f"/people/{READER}",
    "/people/{name}/export": f"/people/{READER}/export",
    "/account": "/account",
    "/account/tokens": "/account/tokens",
    "/accounts/{name}/tokens": "/accounts/The desk/tokens",
    "/accounts": "/accounts",
    "/accounts/new": "/accounts/new",
    "/accounts/deeds": "/accounts/deeds",
    "/accounts/{name}": "/accounts/The desk",
    "/api/days/{day}": "/api/days/today",
    "/api/readings": "/api/readings?page=3",
    "/api/readings/{reading_id}": "/api/readings/{reading}",
    "/api/plan/assignments": "/api/plan/assignments?page=3",
    "/api/plan/readers": "/api/plan/readers?page=2",
    "/health": "/health",
    "/sign-in": "/sign-in",
    "/booth": "/booth",
    "/link/{token}": "/link/{link}",
    "/stand": "/stand",
    "/stand/before": "/stand/before",
    "/stand/paper": "/stand/paper?assignment={own}",
}
"""An address for each row of the matrix that a page is asked for under."""
CHANGES: dict[str, dict[str, str]] = {
    "/plan/readers/new": {"name": "Reader new {round}"},
    "/plan/booths/booth-2": {"name": "Booth two {round}"},
    "/plan/assignments/{assignment}": {
        "programme": "{programme}",
        "issue_date": f"{TODAY}",
        "air_date": f"{TODAY}",
        "reader": "Reader {round}",
    },
    "/plan/readers/Reader 9": {"name": "Reader 9"},
}
"""What the desk sends most often."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was measured.

    Attributes
    ----------
    median_ms : dict of str to float
        By page, and by change with "change of " before it.
    """

    readings: int
    median_ms: dict[str, float]


def measure(folder: Path, length_s: float = 3600.0, rounds: int = ROUNDS) -> Figures:
    """Measure at a station with two years of readings; with less length, at one with fewer."""
    tools = make_large_station(folder, share=min(length_s / 3600.0, 1.0))
    with tools.database:
        client, names = _desk(tools)
        median_ms = {
            page: _median_ms(client, "GET", address.format(**names), {}, names, max(rounds, 3))
            for page, address in PAGES.items()
        }
        for address, form in CHANGES.items():
            median_ms[f"change of {address}"] = _median_ms(
                client, "POST", address.format(**names), form, names, max(rounds, 3)
            )
        return Figures(readings=len(tools.database.readings()), median_ms=median_ms)


def _desk(tools: Tools) -> tuple[TestClient, dict[str, str]]:
    """Give somebody who may do everything, at a booth's browser and with a sitting."""
    from starlette.testclient import TestClient

    add_account("The desk", ["desk", "steward"], PASSWORD, tools)
    station = tools.database.load_station()
    own = next(one for one in station.assignments if one.air_date == TODAY and one.programme_key)
    (row, *_) = tools.database.readings(
        air_date=max(
            one.air_date for one in station.assignments if one.air_date and one.air_date < TODAY
        )
    )
    finish_reading(tools, find_reading(tools.data, row.reading_id))
    client = TestClient(
        make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000), follow_redirects=False
    )
    _booth, booth = enrol_booth(make_enrolment("booth-1", tools), tools)
    for name, secret in (
        (SESSION_COOKIE, sign_in("The desk", PASSWORD, "", Doorkeeper(), tools)),
        (BOOTH_COOKIE, booth),
        (SITTING_COOKIE, new_sitting(own.readers[0], tools, booth="booth-1")),
    ):
        client.cookies.set(name, secret)
    return client, {
        "reading": row.reading_id,
        "assignment": own.key,
        "own": own.key,
        "programme": own.programme_key,
        "link": make_link(READER, 14, tools),
    }


def _median_ms(
    client: TestClient,
    method: str,
    address: str,
    form: dict[str, str],
    names: dict[str, str],
    rounds: int,
) -> float:
    took_ms = []
    for number in range(rounds + 1):
        sent = {name: text.format(round=number, **names) for name, text in form.items()}
        begun = time.perf_counter()
        answer = client.request(method, address, data=sent)
        took_ms.append(1e3 * (time.perf_counter() - begun))
        if answer.status_code not in (200, 303):
            raise SystemExit(f"{address} answered {answer.status_code}:\n{answer.text[-2000:]}")
    # What is loaded at first use is loaded once, by whoever comes first.
    return statistics.median(took_ms[1:])


def report(figures: Figures) -> list[str]:
    """Set the figures as lines, the slowest first."""
    slowest = sorted(figures.median_ms.items(), key=lambda one: -one[1])
    over = sum(took_ms > MEDIAN_MS_MOST for _, took_ms in slowest)
    return [
        f"pages: {machine()}; {figures.readings} readings of {YEARS} years",
        *(f"  {took_ms:8.1f} ms  {page}" for page, took_ms in slowest),
        f"  over {MEDIAN_MS_MOST:.0f} ms at the median: {over}     asked for: 0",
    ]
