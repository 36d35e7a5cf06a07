"""Files that belong together appear all at once, or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, Unavailable
from quietleaf.storage.staging import free_version, show_all, staging


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_what_was_filled_appears_and_the_hidden_folder_goes(tmp_path: Path) -> None:
    with staging(tmp_path) as hidden:
        (hidden / "a.txt").write_text("a")
        (hidden / "b.txt").write_text("b")
        assert hidden.name.startswith(".")
        show_all(hidden, tmp_path, ("a.txt", "b.txt"))
    assert names(tmp_path) == ["a.txt", "b.txt"]
    assert (tmp_path / "a.txt").read_text() == "a"


def stopped_half_way(folder: Path) -> None:
    with staging(folder) as hidden:
        (hidden / "half.wav").write_bytes(b"half")
        raise KeyboardInterrupt


def test_a_folder_that_was_made_for_nothing_goes_again(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        stopped_half_way(tmp_path / "new" / "out")
    assert names(tmp_path) == []


def test_a_folder_that_was_there_stays(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(KeyboardInterrupt):
        stopped_half_way(out)
    assert names(tmp_path) == ["out"]
    assert names(out) == []


def test_a_name_that_is_taken_lets_none_appear(tmp_path: Path) -> None:
    (tmp_path / "b.txt").write_text("older")
    with staging(tmp_path) as hidden:
        for name in ("a.txt", "b.txt"):
            (hidden / name).write_text("new")
        with pytest.raises(Conflict, match="nothing is written over"):
            show_all(hidden, tmp_path, ("a.txt", "b.txt"))
    assert names(tmp_path) == ["b.txt"]
    assert (tmp_path / "b.txt").read_text() == "older"


def test_another_folder_gets_copies_of_its_own(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "deep" / "two"
    with staging(one) as hidden:
        for name in ("a.txt", "b.txt"):
            (hidden / name).write_text(name)
        show_all(hidden, one, ("a.txt", "b.txt"), two, ("a.txt",))
    assert names(one) == ["a.txt", "b.txt"]
    assert names(two) == ["a.txt"]
    with (two / "a.txt").open("a") as copy:
        copy.write("changed")
    assert (one / "a.txt").read_text() == "a.txt"


def test_what_is_taken_in_either_folder_lets_none_appear(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    two.mkdir()
    for taken in (two / "b.txt", one / "b.txt"):
        with staging(one) as hidden:
            for name in ("a.txt", "b.txt"):
                (hidden / name).write_text("new")
            taken.write_text("older")
            with pytest.raises(Conflict):
                show_all(hidden, one, ("a.txt", "b.txt"), two, ("a.txt", "b.txt"))
        assert taken.read_text() == "older"
        taken.unlink()
        assert not (one / "a.txt").exists()
        assert names(two) == []


def test_a_disk_without_links_is_served_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(self: Path, target: Path) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    with staging(tmp_path) as hidden:
        (hidden / "a.txt").write_text("a")
        monkeypatch.setattr(Path, "hardlink_to", no_links)
        show_all(hidden, tmp_path, ("a.txt",))
    assert names(tmp_path) == ["a.txt"]


def test_a_full_disk_lets_none_appear(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    linked = Path.hardlink_to

    def full(self: Path, target: Path) -> None:
        if self.name == "b.txt":
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        linked(self, target)

    with staging(tmp_path) as hidden:
        for name in ("a.txt", "b.txt"):
            (hidden / name).write_text("new")
        monkeypatch.setattr(Path, "hardlink_to", full)
        with pytest.raises(Unavailable, match="full"):
            show_all(hidden, tmp_path, ("a.txt", "b.txt"))
    assert names(tmp_path) == []


def test_what_a_killed_process_left_is_cleared_away(tmp_path: Path) -> None:
    left = tmp_path / ".finishing-0123abcd"
    left.mkdir()
    (left / "half.wav").write_bytes(b"half")
    with staging(tmp_path):
        pass
    assert names(tmp_path) == []


def test_what_another_process_is_filling_is_left_alone(tmp_path: Path) -> None:
    with staging(tmp_path) as first:
        (first / "a.txt").write_text("a")
        with staging(tmp_path) as second:
            assert second != first
        assert (first / "a.txt").read_text() == "a"


def test_a_version_is_free_in_every_folder(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    wanted = ("plan.json", "hour.wav")
    assert free_version((one, two), wanted) == wanted
    (one / "plan.json").touch()
    (two / "hour-2.wav").touch()
    assert free_version((one, two), wanted) == ("plan-3.json", "hour-3.wav")


def test_too_many_versions_are_refused(tmp_path: Path) -> None:
    for name in ("a.txt", "a-2.txt"):
        (tmp_path / name).touch()
    with pytest.raises(Conflict, match="versions"):
        free_version((tmp_path,), ("a.txt",), most=3)
