"""The table of free recordings is whole, and what it lists is taken out of archives."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

from bench.proving.labels import KIND_OF_SORT
from bench.proving.open_archives import unpack
from bench.proving.open_sounds import BEDS, listed

FREE = re.compile(
    r"MIT|BSD-[23]-Clause|Apache-2\.0|CC0 1\.0|CC BY(-SA)? [34]\.0|Public domain \(.+\)"
)


def test_the_table_is_whole() -> None:
    table = listed()
    names = [package.name for package in table.packages]
    sources = [group.source for group in table.groups]
    assert len(set(names)) == len(names)
    assert len(set(sources)) == len(sources)
    assert {group.package for group in table.groups} == set(names)
    for package in table.packages:
        assert package.registry in ("npm", "pypi", "debian")
        assert re.fullmatch(r"[0-9a-f]{64}", package.sha256), package.name
        assert package.version
        assert "/" not in package.file
    for group in table.groups:
        assert group.kind in (*KIND_OF_SORT, *BEDS, "speech"), group.source
        assert (group.kind == "speech") == (group.voice is not None) == (group.language is not None)
        assert FREE.fullmatch(group.licence), group.source
        assert group.credit
        assert len({file for file, _, _ in group.files}) == len(group.files) > 0
        assert all(0.0 <= start_s < end_s for _, start_s, end_s in group.files), group.source


def test_listed_files_are_taken_out_of_an_archive_in_an_archive(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("sounds/voice_a/one.wav", b"1")
        archive.writestr("sounds/voice_a/deep/one.wav", b"2")
    outer = tmp_path / "package.whl"
    with zipfile.ZipFile(outer, "w") as archive:
        archive.writestr("held.pk3", inner.getvalue())
    wanted = {
        "sounds/voice_*/one.wav": tmp_path / "cache" / "one.wav",
        "sounds/voice_*/two.wav": tmp_path / "cache" / "two.wav",
    }
    assert unpack(outer, wanted, "held.pk3") == ["sounds/voice_*/two.wav"]
    assert (tmp_path / "cache" / "one.wav").read_bytes() == b"1"
    assert unpack(outer, wanted, "absent.pk3") == ["absent.pk3"]
