"""Archives of package registries: fetched by the clients as they are set up, unpacked, decoded.

Nothing of a package is run. That is why the Python index is asked directly: pip builds a source
archive before it hands it over.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import ssl
import subprocess
import sys
import tarfile
import urllib.request
import zipfile
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from urllib.parse import urljoin

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.helpers import HelperMissing, find_ffmpeg, find_node

_PATIENCE_S = 60.0
_COMMAND_PATIENCE_S = 600.0
_NPM_OPTIONS = ("--ignore-scripts", "--loglevel=error", "--fetch-retries=1")
_BY_FFMPEG_HZ = {".mp3": 44100, ".g722": 16000}
"""What ffmpeg decodes, and the rate that it gives."""


class NotFetched(Exception):
    """A package cannot be had; the text says why."""


def fetch(registry: str, name: str, version: str, file: str, folder: Path) -> Path:
    """Download an archive into a folder and give its path."""
    try:
        if registry == "pypi":
            return _from_python_index(name, file, folder)
        if registry == "npm":
            _run([*_npm(), "pack", *_NPM_OPTIONS, f"{name}@{version}"], folder)
        else:
            _run(["apt-get", "download", "--quiet", f"{name}={version}"], folder)
    except (OSError, ValueError, subprocess.SubprocessError) as failure:
        raise NotFetched(str(failure)) from failure
    if not (folder / file).exists():
        raise NotFetched(f"its client gave no {file}")
    return folder / file


def unpack(archive: Path, wanted: Mapping[str, Path], inner: str | None) -> list[str]:
    """Write the wanted members where they belong; give those that are not there.

    Parameters
    ----------
    wanted : mapping of the member's path to where it goes
        ``*`` in a path stands for any letters but a slash.
    inner : str or None
        The member that is itself the archive with the wanted ones.
    """
    if inner is not None:
        held = dict(_members(archive, {inner}))
        if inner not in held:
            return [inner]
        archive = archive.with_suffix(".zip")
        archive.write_bytes(held[inner])
    missing = dict(wanted)
    for member, data in _members(archive, set(wanted)):
        path = missing.pop(member)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return list(missing)


def decode(path: Path) -> tuple[NDArray[np.float64], int]:
    """Give a file's samples, mono, shape (n,), and its sampling rate in Hz."""
    rate = _BY_FFMPEG_HZ.get(path.suffix)
    if rate is None:
        samples, rate = soundfile.read(path, always_2d=True)
        return samples.mean(axis=1), int(rate)
    source = ["-f", "g722"] if path.suffix == ".g722" else []
    command = [str(find_ffmpeg()), "-v", "error", *source, "-i", str(path)]
    command += ["-ac", "1", "-ar", str(rate), "-f", "f32le", "-"]
    done = subprocess.run(command, capture_output=True, check=True)
    return np.frombuffer(done.stdout, np.dtype("<f4")).astype(np.float64), rate


def _from_python_index(name: str, file: str, folder: Path) -> Path:
    page = f"{_python_index().rstrip('/')}/{name}/"
    asked = {"Accept": "application/vnd.pypi.simple.v1+json"}
    for entry in json.loads(_get(page, asked))["files"]:
        if entry["filename"] == file:
            (folder / file).write_bytes(_get(urljoin(page, entry["url"]), {}))
            return folder / file
    raise NotFetched(f"the index has no {file}")


def _python_index() -> str:
    """Ask pip which index it is set up for: its help tells it as the default."""
    command = [sys.executable, "-m", "pip", "download", "--help"]
    # Else its lines are broken to the terminal's width.
    wide = os.environ | {"COLUMNS": "999"}
    told = subprocess.run(command, env=wide, capture_output=True, text=True, check=True).stdout
    found = re.search(r"--index-url <url>.*?\(default (\S+?)\)", told)
    if not found:
        raise NotFetched("pip does not tell its index")
    return found[1]


def _get(url: str, headers: Mapping[str, str]) -> bytes:
    trusted = ssl.create_default_context(cafile=os.environ.get("PIP_CERT"))
    request = urllib.request.Request(url, headers=dict(headers))
    with urllib.request.urlopen(request, timeout=_PATIENCE_S, context=trusted) as answer:
        data: bytes = answer.read()
    return data


def _npm() -> list[str]:
    """Find npm beside the Node that was installed for the tests, else the system's."""
    try:
        node = find_node()
        cli = node.parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
        if cli.exists():
            return [str(node), str(cli)]
    except HelperMissing:
        pass
    found = shutil.which("npm")
    if not found:
        raise NotFetched("npm is not installed")
    return [found]


def _run(command: list[str], folder: Path) -> None:
    done = subprocess.run(
        command,
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        timeout=_COMMAND_PATIENCE_S,
    )
    if done.returncode:
        output = (done.stderr or done.stdout).splitlines()
        lines = [line for line in output if line.strip() and "complete log" not in line]
        raise NotFetched(lines[-1] if lines else f"{command[0]} ended with {done.returncode}")


def _members(archive: Path, wanted: set[str]) -> Iterator[tuple[str, bytes]]:
    """Give the members that are wanted, each once: as they were asked for, and their bytes."""
    patterns = {name: re.compile(re.escape(name).replace(r"\*", "[^/]*")) for name in wanted}
    for name, read in _all_members(archive):
        for asked, pattern in list(patterns.items()):
            if pattern.fullmatch(name):
                del patterns[asked]
                yield asked, read()
                break


def _all_members(archive: Path) -> Iterator[tuple[str, Callable[[], bytes]]]:
    if archive.suffix in (".whl", ".zip"):
        with zipfile.ZipFile(archive) as opened:
            for name in opened.namelist():
                yield name, partial(opened.read, name)
    elif archive.suffix == ".deb":
        command = ["dpkg-deb", "--fsys-tarfile", str(archive)]
        with (
            subprocess.Popen(command, stdout=subprocess.PIPE) as unpacking,
            tarfile.open(fileobj=unpacking.stdout, mode="r|") as opened,
        ):
            yield from _tar_members(opened)
    else:
        with tarfile.open(archive) as opened:
            yield from _tar_members(opened)


def _tar_members(opened: tarfile.TarFile) -> Iterator[tuple[str, Callable[[], bytes]]]:
    for member in opened:
        if member.isfile():
            yield member.name.removeprefix("./"), partial(_read_member, opened, member)


def _read_member(opened: tarfile.TarFile, member: tarfile.TarInfo) -> bytes:
    held = opened.extractfile(member)
    return held.read() if held else b""
