"""Who may send sound, and what is done with anything else that comes: refused, and no harm."""

from __future__ import annotations

import json
import logging
import random
import shutil
import uuid
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from quietleaf.booth.wire import (
    ENTRY,
    SOUND,
    Article,
    Record,
    Rolled,
    Sealed,
    entry_bytes,
    record_bytes,
)
from quietleaf.errors import Conflict
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.reading_places import PRACTICE, READINGS, folder_of, place_of
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.web import wire
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.faults.wire_checks import check_whole
from tests.readings import AT, FACTS, noise
from tests.stand_client import Journal, Stand
from tests.stations_served import new_pass, new_place, opened_station
from tests.waiting import wait_for

SEED = 20261125
LARGEST = 256 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A station's line, and a reading behind it."""

    tools: Tools
    place: str
    stand: Stand

    @property
    def ledger(self) -> bytes:
        """Read what is written of the reading."""
        return (folder_of(self.tools.data, self.place).path / "ledger.jsonl").read_bytes()

    def hello(self, **changed: Any) -> str:
        """Say who is there."""
        told = {
            "kind": "hello",
            "pass": self.stand.secret,
            "journal": self.stand.journal.name,
            "takeOver": False,
        }
        return json.dumps(told | changed)


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Tools, str]]:
    with opened_station(tmp_path_factory.mktemp("station")) as tools, served(tools) as address:
        yield tools, address


@pytest.fixture
def door(station: tuple[Tools, str], caplog: pytest.LogCaptureFixture) -> Iterator[Door]:
    tools, address = station
    reading_id = uuid.uuid4().hex
    create_reading(tools.data, replace(FACTS, reading_id=reading_id), AT, "Ada")
    place = place_of(READINGS, reading_id)
    yield Door(tools=tools, place=place, stand=Stand(address, new_pass(tools, place), Journal()))
    # Whatever came, nothing broke: a refusal is no fault of the station's.
    told = caplog.get_records("call")
    assert [record for record in told if record.levelno >= logging.ERROR] == []


def sound(first: int, samples: int, entries: int = 1, number: int = 1) -> bytes:
    return record_bytes(
        Record(
            kind=SOUND,
            number=number,
            entries=entries,
            first=first,
            payload=bytes(3 * samples),
            whole=True,
        )
    )


def entry(payload: bytes, entries: int) -> bytes:
    return record_bytes(
        Record(kind=ENTRY, number=entries, entries=entries, first=0, payload=payload, whole=True)
    )


ROLLED = entry(entry_bytes(Rolled(sample_rate_hz=48_000, origin="a test")), 0)


def last_words(line: ClientConnection) -> tuple[dict[str, Any], int]:
    """Hear until the line closes; give the last message and the code."""
    told: dict[str, Any] = {}
    with suppress(ConnectionClosed):
        while True:
            told = json.loads(line.recv(20.0))
    assert line.close_code is not None
    return told, line.close_code


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://127.0.0.1:1"])
def test_a_page_of_another_site_gets_no_line(door: Door, origin: str) -> None:
    with (
        pytest.raises(InvalidStatus),
        connect(door.stand.address, additional_headers={"Origin": origin}),
    ):
        pass


def test_the_station_s_own_page_gets_one(door: Door) -> None:
    own = door.stand.address.replace("ws", "http", 1).removesuffix("/stand/wire")
    with connect(door.stand.address, additional_headers={"Origin": own}) as line:
        line.send(door.hello())
        assert json.loads(line.recv(20.0))["kind"] == "welcome"


def test_another_name_for_this_machine_gets_no_line(door: Door) -> None:
    with (
        pytest.raises(InvalidStatus),
        connect(door.stand.address, additional_headers={"Host": "elsewhere.example"}),
    ):
        pass


@pytest.mark.parametrize("what", ["unknown", "ended", "expired", "sitting", "gone"])
def test_a_pass_that_opens_nothing(door: Door, what: str) -> None:
    database, now = door.tools.database, door.tools.clock()
    secret = new_secret()
    if what != "unknown":
        database.add_token(
            Token(
                sha256=sha256_of(secret),
                purpose="sitting" if what == "sitting" else "pass",
                reader="Ada",
                reading="readings:never-was" if what == "gone" else door.place,
                made_at=now - timedelta(days=1),
                expires_at=now - timedelta(seconds=1) if what == "expired" else None,
            )
        )
    if what == "ended":
        database.end_token(sha256_of(secret), now)
    before = door.ledger
    with connect(door.stand.address) as line:
        line.send(door.hello(**{"pass": secret}))
        told, code = last_words(line)
    assert (told["kind"], told["code"], code) == ("refused", "wire/pass", 4401)
    assert "kept in this browser" in told["sentence"]
    assert door.ledger == before


@pytest.mark.parametrize(
    "first",
    [
        "",
        "hello",
        "[]",
        "7",
        "{}",
        '{"kind":"ping","id":1}',
        '{"kind":"hello","pass":7,"journal":"00"}',
        "[" * 4_000,
        "x" * 5_000,
        b"leaf",
        ROLLED,
    ],
)
def test_a_line_begins_with_a_hello(door: Door, first: str | bytes) -> None:
    with connect(door.stand.address) as line:
        line.send(first)
        told, code = last_words(line)
    assert (told["kind"], told["code"], code) == ("refused", "wire/hello", 4400)


@pytest.mark.parametrize("journal", ["", "../../x", "A" * 32, "0" * 31, "0" * 33, "0" * 32 + "\n"])
def test_a_journal_has_a_name_of_its_kind(door: Door, journal: str) -> None:
    with connect(door.stand.address) as line:
        line.send(door.hello(journal=journal))
        told, _ = last_words(line)
    assert (told["kind"], told["code"]) == ("refused", "wire/journal")


@pytest.mark.parametrize(
    ("messages", "code"),
    [
        ([b"what is this, that has no mark of ours at all?"], "wire/record"),
        ([b"leaf"], "wire/record"),
        ([bytes(LARGEST + 1)], "wire/message-size"),
        (["not even JSON"], "wire/text"),
        (['{"kind":"ping"}'], "wire/text"),
        ([sound(0, 10, entries=0)], "wire/sound"),
        ([ROLLED, entry(entry_bytes(Rolled(sample_rate_hz=48_000, origin="")), 1)], "wire/rolled"),
        ([entry(entry_bytes(Sealed(samples=0)), 0)], "wire/no-take"),
        ([ROLLED, sound(0, 10), entry(entry_bytes(Sealed(samples=9)), 1)], "wire/sealed"),
        ([entry(b'{"what":"erase"}', 0)], "wire/record"),
        ([entry(b'{"what":"rolled","rate":1e9,"origin":""}', 0)], "wire/record"),
    ],
)
def test_what_does_not_hold_together_is_refused(
    door: Door, messages: list[str | bytes], code: str
) -> None:
    with connect(door.stand.address) as line:
        line.send(door.hello())
        for message in messages:
            line.send(message)
        told, closed = last_words(line)
    assert (told["kind"], told["code"], closed) == ("refused", code, 4400)
    # What held together before it is there, and the journal can go on.
    with door.stand.line():
        assert door.stand.told[-1]["kind"] == "welcome"
        assert door.stand.kept == (
            (1, 10) if sound(0, 10) in messages else (int(ROLLED in messages), 0)
        )


@pytest.mark.parametrize(
    "messages",
    [
        [ROLLED, sound(1, 10)],
        [ROLLED, sound(0, 10, entries=2)],
        [ROLLED, entry(entry_bytes(Article(sample=11, title="")), 1)],
        [ROLLED, entry(entry_bytes(Sealed(samples=11)), 1)],
        [ROLLED, sound(0, 10)[:-1] + b"x"],
        [ROLLED, sound(0, 10)[:-1]],
    ],
)
def test_a_gap_is_asked_for_again(door: Door, messages: list[bytes]) -> None:
    with connect(door.stand.address) as line:
        line.send(door.hello())
        line.send(b"".join(messages))
        assert json.loads(line.recv(20.0))["kind"] == "welcome"
        told = json.loads(line.recv(20.0))
        assert told == {"kind": "resend", "entries": 1, "samples": 0}
        line.send(sound(0, 10) + entry(entry_bytes(Sealed(samples=10)), 1))
        assert json.loads(line.recv(20.0)) == {"kind": "kept", "entries": 2, "samples": 0}


def test_any_bytes_do_no_harm(door: Door) -> None:
    rng = random.Random(SEED)
    stand = door.stand
    for number in range(60):
        with connect(stand.address) as line:
            if rng.random() < 0.7:
                line.send(door.hello())
            try:
                for _ in range(rng.randint(1, 4)):
                    wild = rng.randbytes(rng.randint(0, 300))
                    line.send(rng.choice((wild, b"leaf\1" + wild, ROLLED[:8] + wild, wild.hex())))
                if number % 2:
                    last_words(line)
            except ConnectionClosed:
                continue
    stand.journal.roll()
    stand.journal.sound(noise(10_000))
    stand.journal.seal()
    assert stand.send()
    check_whole(door.tools.data, door.place, stand.journal)


def test_a_line_that_goes_still_is_let_go(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "SILENT_S", 0.1)
    stand = door.stand
    stand.journal.roll()
    stand.journal.sound(noise(5_000))
    with stand.line() as line:
        stand.pour(line)
        while not stand.all_kept:
            stand.hear(line)
        assert last_words(line)[1] == 1001
        # Its take is free: handing in can close it.
        folder = folder_of(door.tools.data, door.place)

        def is_free() -> bool:
            with suppress(Conflict):
                folder.resume(1).close()
                return True
            return False

        wait_for(is_free)
    stand.journal.seal()
    assert stand.send()
    check_whole(door.tools.data, door.place, stand.journal)


def test_a_practice_that_was_deleted_takes_no_more(door: Door) -> None:
    folder = create_reading(door.tools.data / PRACTICE, FACTS, AT, "Ada")
    secret = new_pass(door.tools, place_of(PRACTICE, FACTS.reading_id))
    stand = Stand("", secret, Journal())
    stand.address = door.stand.address
    stand.journal.roll()
    stand.journal.sound(noise(3_000))
    with stand.line() as line:
        stand.pour(line)
        while not stand.all_kept:
            stand.hear(line)
        door.tools.database.end_token(sha256_of(secret), door.tools.clock())
        shutil.rmtree(folder.path)
        stand.journal.seal()
        stand.pour(line)
        told, code = last_words(line)
        assert (told["kind"], code) == ("refused", 4401)
    assert not stand.send()
    assert stand.told[-1]["kind"] == "refused"
    assert not folder.path.exists()


def test_a_station_that_stops_closes_its_lines(tmp_path: Path) -> None:
    with opened_station(tmp_path) as tools:
        place = new_place(tools)
        journal = Journal()
        journal.roll()
        journal.sound(noise(5_000))
        with served(tools) as address:
            stand = Stand(address, new_pass(tools, place), journal)
            with connect(stand.address) as line:
                line.send(
                    json.dumps({"kind": "hello", "pass": stand.secret, "journal": journal.name})
                )
                stand.hear(line)
                stand.pour(line)
                while not stand.all_kept:
                    stand.hear(line)
                stopping = line
        assert stopping.close_code is not None
        journal.seal()
        with served(tools) as address:
            stand = Stand(address, stand.secret, journal)
            assert stand.send()
    check_whole(tmp_path, place, journal)


def test_a_practice_takes_so_much_sound_and_no_more(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("quietleaf.work.practice.LARGEST_BYTES", 12_000)
    folder = create_reading(door.tools.data / PRACTICE, FACTS, AT, "Ada")
    secret = new_pass(door.tools, place_of(PRACTICE, FACTS.reading_id))
    stand = Stand("", secret, Journal())
    stand.address = door.stand.address
    for samples, is_taken in ((3_000, True), (900, True), (101, False)):
        stand.journal.roll()
        stand.journal.sound(noise(samples))
        stand.journal.seal()
        assert stand.send() == is_taken
    assert stand.told[-1]["kind"] == "refused"
    assert stand.told[-1]["code"] == "practice/long"
    lengths = [take.samples for take in ReadingFolder(folder.path).takes()]
    assert lengths[:2] == [3_000, 900]
    assert sum(path.stat().st_size for path in folder.path.glob("takes/*.wav")) < 12_500


def test_all_practices_together_take_so_much_and_no_more(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("quietleaf.work.practice.LARGEST_BYTES", 1_000)
    shutil.rmtree(door.tools.data / PRACTICE, ignore_errors=True)
    create_reading(door.tools.data / PRACTICE, FACTS, AT, "Ada")
    secret = new_pass(door.tools, place_of(PRACTICE, FACTS.reading_id))
    taken = 0
    # Each comes with a journal of its own, which is kept apart.
    for _ in range(40):
        stand = Stand("", secret, Journal())
        stand.address = door.stand.address
        stand.journal.roll()
        stand.journal.sound(noise(250))
        stand.journal.seal()
        taken += stand.send()
    sizes = [path.stat().st_size for path in (door.tools.data / PRACTICE).rglob("takes/*.wav")]
    assert 20 < taken < 27
    assert sum(sizes) <= 20 * 1_000 + 40 * 80
