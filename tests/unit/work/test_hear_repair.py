"""A repair as the desk compares it: both sounds of one place, equally loud."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

from quietleaf.errors import Conflict, NotFound
from quietleaf.storage.reading_folder import find_reading
from quietleaf.web.app import make_app
from quietleaf.work.hear_repair import LEAD_IN_SAMPLES, hear_repair
from quietleaf.work.tools import Tools
from tests.repaired import GAP, add_take, repaired_station
from tests.voices import RATE_HZ


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with repaired_station(tmp_path) as tools:
        yield tools


def test_both_are_of_one_place_and_equally_loud_but_for_the_fault(tools: Tools) -> None:
    heard = hear_repair("r7", "1", tools)
    middle = heard.before.size // 2
    assert heard.before.size == heard.now.size == 2 * LEAD_IN_SAMPLES + RATE_HZ * 3 // 2
    gap = slice(middle - GAP // 2 + 2, middle + GAP // 2 - 2)
    assert not heard.before[gap].any()
    assert np.sqrt(np.mean(heard.now[gap] ** 2)) > 0.01
    beside = slice(middle - RATE_HZ, middle - 2 * GAP)
    before, now = heard.before[beside], heard.now[beside]
    # Apart from rumble that is taken out, and from the last bit, it is the same sound.
    assert np.corrcoef(before, now)[0, 1] > 0.98
    assert np.std(before) == pytest.approx(np.std(now), rel=0.06)

    client = TestClient(make_app(tools), "http://127.0.0.1:8190", client=("127.0.0.1", 1))
    page = client.get("/reading/r7").text
    for version, samples in (("before", heard.before), ("now", heard.now)):
        assert f'href="/reading/r7/repairs/1/{version}"' in page
        answer = client.get(f"/reading/r7/repairs/1/{version}")
        assert answer.headers["content-type"] == "audio/wav"
        read, rate_hz = soundfile.read(io.BytesIO(answer.content))
        assert rate_hz == RATE_HZ
        assert np.abs(read - samples).max() < 1e-4

    for number in ("0", "2", "x", "²"):
        with pytest.raises(NotFound, match="no repair of that number"):
            hear_repair("r7", number, tools)
    with pytest.raises(NotFound, match="no reading"):
        hear_repair("r8", "1", tools)


def test_what_was_changed_since_is_not_compared(tools: Tools) -> None:
    add_take(find_reading(tools.data, "r7"), np.zeros(RATE_HZ))
    with pytest.raises(Conflict, match="changed since it was finished"):
        hear_repair("r7", "1", tools)
