"""What the room check's page sends is read whole or refused; what was found has its words."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from starlette.testclient import TestClient

from quietleaf.errors import Invalid
from quietleaf.listening.room_check import AdviceCode, RoomCheck
from quietleaf.listening.room_echo import Echo
from quietleaf.listening.room_hum import Hum
from quietleaf.listening.room_leak import Leak
from quietleaf.listening.room_noise import NoiseKind, RoomNoise
from quietleaf.listening.room_side import MicrophoneSide
from quietleaf.web import room_texts
from quietleaf.web.app import make_app
from quietleaf.web.coming_pages import SITTING_COOKIE
from quietleaf.web.room_pages import answer_of, sound_of
from quietleaf.work.tools import Tools
from tests.finished import example_station
from tests.handing_in import booth_reading, sit

PARTS = {"sentence": 3, "still": 2, "plosives": 1}
HEADER = {"rate": 48_000, "channels": 2, "microphone": "Desk", "parts": PARTS}


def body(header: Any, values: list[float]) -> bytes:
    text = json.dumps(header).encode()
    return struct.pack("<I", len(text)) + text + np.array(values, "<f4").tobytes()


def test_each_part_has_its_channels_one_after_the_other() -> None:
    sound, microphone = sound_of(body(HEADER, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]))
    assert microphone == "Desk"
    assert sound.sample_rate_hz == 48_000
    assert sound.sentence.tolist() == [[0, 3], [1, 4], [2, 5]]
    assert sound.still.tolist() == [[6, 8], [7, 9]]
    assert sound.plosives.tolist() == [[10, 11]]
    assert sound.played is None


UNLIKE = [
    b"",
    b"\x01",
    struct.pack("<I", 0xFFFFFFFF),
    b"\x02\x00\x00\x00[]",
    body(HEADER, [0.0] * 11),
    body(HEADER, [0.0] * 13),
    body(HEADER, [float("nan")] * 12),
    body(HEADER, [float("inf")] * 12),
    body(HEADER | {"rate": 0}, [0.0] * 12),
    body(HEADER | {"rate": 48_000.5}, [0.0] * 12),
    body(HEADER | {"rate": "48000"}, [0.0] * 12),
    body(HEADER | {"channels": 3}, [0.0] * 18),
    body(HEADER | {"channels": 0}, []),
    body(HEADER | {"parts": {"sentence": -1, "still": 1, "plosives": 0}}, []),
    body(HEADER | {"parts": 7}, [0.0] * 12),
    body(HEADER | {"rate": 8_000, "parts": {"still": 480_001}}, []),
]


@pytest.mark.parametrize("sent", UNLIKE, ids=range(len(UNLIKE)))
def test_what_does_not_hold_together_is_refused(sent: bytes) -> None:
    with pytest.raises(Invalid, match="no room check of at most a minute"):
        sound_of(sent)


FULL = RoomCheck(
    sample_rate_hz=48_000,
    channels=2,
    side=MicrophoneSide(side="right", other="dead", levels_dbov=(None, -24.0)),
    voice_dbov=-24.0,
    noise=RoomNoise(
        floor_dbov=-44.0, bump_db=2.0, kind="hum", low_db=-1.0, middle_db=-9.0, high_db=-20.0
    ),
    hum=Hum(frequency_hz=49.97, harmonics=(1, 2), level_dbov=-45.0, heard_dbov=-60.0),
    echo=Echo(decay_s=0.71, slopes=300),
    leak=Leak(level_dbov=-60.0, clear_db=20.0),
    band_end_hz=8_000,
)


def test_each_advice_has_a_sentence() -> None:
    for code in get_args(AdviceCode):
        (sentence,) = room_texts.advice_words(replace(FULL, advice=(code,)))
        assert sentence.endswith((".", "!"))
        assert "None" not in sentence
    assert FULL.noise is not None
    noises = {
        room_texts.advice_words(
            replace(FULL, advice=("noise",), noise=replace(FULL.noise, kind=kind))
        )[0]
        for kind in get_args(NoiseKind)
    }
    assert len(noises) == 4


def test_words_have_a_number_behind_them() -> None:
    told = {name: (words, figure) for name, words, figure in room_texts.measures(FULL)}
    assert told["Hum"] == ("of the mains", "50.0 Hz")
    assert told["Echo"] == ("much: you sound far away", "about 0.7 s")
    assert told["Voice over the room"] == ("little", "20 dB")
    assert told["The test tone"] == ("heard by the microphone", "36 dB under your voice")
    assert told["Microphone"][0] == "on the right side; the other is empty, and is left out"
    assert answer_of(FULL)["side"] == "right"
    nothing = RoomCheck(sample_rate_hz=48_000, channels=1, side=None, advice=("no-input",))
    assert answer_of(nothing)["measures"] == [["Microphone", "gives nothing", "48 kHz"]]
    assert answer_of(nothing)["side"] == "left"


def test_the_sentence_says_what_a_reader_must_know_of_distance() -> None:
    assert "15 to 20 cm" in room_texts.DISTANCE
    assert room_texts.sentence_words() == 33


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


@pytest.fixture
def client(tools: Tools) -> TestClient:
    """Give a client at the station's own machine, that nobody sits before."""
    return TestClient(
        make_app(tools),
        base_url="http://127.0.0.1",
        client=("127.0.0.1", 50_000),
        follow_redirects=False,
    )


def test_only_who_sits_before_an_open_reading_may_check(tools: Tools, client: TestClient) -> None:
    assert client.get("/stand/room").status_code == 403
    answer = client.post("/stand/room/sound", content=b"")
    assert answer.status_code == 403
    assert answer.json()["sentence"]
    client.cookies.set(SITTING_COOKIE, sit(tools, None))
    assert client.get("/stand/room").headers["location"] == "/stand"
    assert client.post("/stand/room/without").headers["location"] == "/stand"
    assert client.post("/stand/room/sound", content=b"").status_code == 404


def test_a_check_is_answered_in_words_and_refusals_are_sentences(
    tools: Tools, client: TestClient
) -> None:
    booth_reading(tools)
    client.cookies.set(SITTING_COOKIE, sit(tools, "readings:t5"))
    silent = body(
        {"rate": 8_000, "channels": 1, "parts": {"sentence": 8_000, "still": 0, "plosives": 0}},
        [0.0] * 8_000,
    )
    answer = client.post("/stand/room/sound", content=silent)
    assert answer.status_code == 200
    assert answer.json()["codes"] == ["no-input"]
    refused = client.post("/stand/room/sound", content=b"nothing of the kind")
    assert refused.status_code == 422
    assert refused.json()["sentence"].startswith("What the page sent is no room check")
    elsewhere = client.post(
        "/stand/room/sound", content=silent, headers={"origin": "http://elsewhere.example"}
    )
    assert elsewhere.status_code == 403
    gone = client.post("/stand/room/without", data={"as_before": "x" * 500})
    assert (gone.status_code, gone.headers["location"]) == (303, "/stand/reading")
