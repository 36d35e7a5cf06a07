"""The terminal's door."""

import subprocess
import sys

import pytest

from quietleaf.cli.main import COMMANDS, main

HEAVY = ("numpy", "scipy", "numba", "soundfile", "sqlalchemy", "starlette", "jinja2", "uvicorn")


def test_without_a_command_it_prints_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    printed = capsys.readouterr().out
    assert all(name in printed for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main([name, "--help"])
    assert stop.value.code == 0
    assert f"quietleaf {name}" in capsys.readouterr().out


@pytest.mark.parametrize("words", [["--help"], *([name, "--help"] for name in COMMANDS)])
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    script = (
        "import sys\nfrom quietleaf.cli.main import main\n"
        f"try:\n    main({words!r})\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], check=True, capture_output=True, text=True
    )
    assert done.stderr.strip() == "[]"


def test_hearing_loads_no_library_that_takes_longer_than_minutes_of_sound() -> None:
    script = (
        "import sys\nimport quietleaf.work.hear_recording\n"
        "print([name for name in ('scipy.signal', 'scipy.stats', 'sqlalchemy') "
        "if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


def test_the_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("quietleaf 0.")


def test_an_unknown_command_is_refused_with_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["sing"])
    assert stop.value.code == 2
    assert "bring-in" in capsys.readouterr().err
