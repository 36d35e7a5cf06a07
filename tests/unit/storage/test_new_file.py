"""A new file appears whole, or not at all."""

from __future__ import annotations

import errno
import hashlib
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, NotAllowed, NotFound, Unavailable
from quietleaf.storage.new_file import NewFile, disk_told, write_text_file


def names(folder: Path) -> list[str]:
    """What lies in a folder, hidden files too."""
    return sorted(path.name for path in folder.iterdir())


def test_text_lies_there_as_utf_8_with_its_checksum(tmp_path: Path) -> None:
    written = write_text_file(tmp_path / "plan.json", "Žofie\n")
    octets = "Žofie\n".encode()
    assert written.path.read_bytes() == octets
    assert written.size_bytes == len(octets)
    assert written.sha256 == hashlib.sha256(octets).hexdigest()
    assert names(tmp_path) == ["plan.json"]


def test_what_is_no_text_becomes_a_question_mark(tmp_path: Path) -> None:
    assert write_text_file(tmp_path / "a", "caf\udce9").path.read_bytes() == b"caf?"


def test_nothing_shows_before_commit(tmp_path: Path) -> None:
    with NewFile(tmp_path / "a.wav") as file:
        file.stream.write(b"half")
        assert not (tmp_path / "a.wav").exists()
    assert names(tmp_path) == []


def test_nothing_is_left_when_writing_breaks_off(tmp_path: Path) -> None:
    def break_off() -> None:
        with NewFile(tmp_path / "a.wav") as file:
            file.stream.write(b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        break_off()
    assert names(tmp_path) == []


def test_taken_name_is_refused_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"old")
    with pytest.raises(Conflict, match=r"a\.wav is there already"):
        NewFile(tmp_path / "a.wav")
    assert (tmp_path / "a.wav").read_bytes() == b"old"


def test_name_taken_meanwhile_is_refused_at_the_end(tmp_path: Path) -> None:
    with NewFile(tmp_path / "a.wav") as file:
        (tmp_path / "a.wav").write_bytes(b"came first")
        with pytest.raises(Conflict, match=r"a\.wav is there already"):
            file.commit()
    assert (tmp_path / "a.wav").read_bytes() == b"came first"
    assert names(tmp_path) == ["a.wav"]


def test_disk_without_links_still_never_writes_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    with NewFile(tmp_path / "a.wav") as file:
        file.stream.write(b"new")
        file.commit()
    assert (tmp_path / "a.wav").read_bytes() == b"new"
    with NewFile(tmp_path / "b.wav") as file:
        (tmp_path / "b.wav").write_bytes(b"came first")
        with pytest.raises(Conflict, match="nothing is written over"):
            file.commit()
    assert names(tmp_path) == ["a.wav", "b.wav"]


def test_what_a_killed_process_left_is_cleared(tmp_path: Path) -> None:
    (tmp_path / ".a [1].wav.0badcafe.part").write_bytes(b"left over")
    (tmp_path / ".other.wav.0badcafe.part").write_bytes(b"not ours")
    write_text_file(tmp_path / "a [1].wav", "new")
    assert names(tmp_path) == [".other.wav.0badcafe.part", "a [1].wav"]


def test_living_writer_is_left_alone(tmp_path: Path) -> None:
    with NewFile(tmp_path / "a.wav") as first, NewFile(tmp_path / "a.wav") as second:
        first.stream.write(b"first")
        second.stream.write(b"second")
        first.commit()
        with pytest.raises(Conflict, match="there already"):
            second.commit()
    assert (tmp_path / "a.wav").read_bytes() == b"first"
    assert names(tmp_path) == ["a.wav"]


def test_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="which is not there"):
        NewFile(tmp_path / "none" / "a.wav")


def test_full_disk_is_told() -> None:
    # Every write to this device says that it is full.
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full (not Linux); run on Linux to have it")

    with (
        pytest.raises(Unavailable, match=r"is full\. Nothing was kept of a\.wav"),
        disk_told(Path("somewhere/a.wav")),
        full.open("wb") as stream,
    ):
        stream.write(b"x")


def test_closed_folder_is_told() -> None:

    with (
        pytest.raises(NotAllowed, match="may not be written to by this account"),
        disk_told(Path("somewhere/a.wav")),
    ):
        raise PermissionError(errno.EACCES, "Permission denied")


def test_broken_disk_is_told() -> None:

    with (
        pytest.raises(Unavailable, match=r"did not take a\.wav: Input/output"),
        disk_told(Path("somewhere/a.wav")),
    ):
        raise OSError(errno.EIO, "Input/output error")
