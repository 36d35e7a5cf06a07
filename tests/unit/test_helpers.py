"""The programs that the tests get help from do run; in strict mode this proves the installation."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests import helpers

if TYPE_CHECKING:
    from playwright.sync_api import Page


def test_ffmpeg_makes_a_sound_that_ffprobe_reads(
    ffmpeg: Path, ffprobe: Path, tmp_path: Path
) -> None:
    sound = tmp_path / "tone.wav"
    tone = ["-f", "lavfi", "-i", "sine=frequency=1000:sample_rate=48000:duration=0.5"]
    subprocess.run([ffmpeg, "-v", "error", *tone, sound], check=True)
    asked = ["-show_entries", "stream=sample_rate,duration_ts", "-of", "csv=p=0"]
    told = subprocess.run(
        [ffprobe, "-v", "error", *asked, sound], check=True, capture_output=True, text=True
    )
    assert told.stdout.strip() == "48000,24000"


def test_node_runs(node: Path) -> None:
    told = subprocess.run([node, "-p", "6 * 7"], check=True, capture_output=True, text=True)
    assert told.stdout.strip() == "42"


def test_pyav_has_an_aac_codec(aac: None) -> None:
    import av

    assert "aac" in av.codecs_available


def test_the_browser_draws_text_and_axe_finds_what_is_wrong(page: Page) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page.set_content(
        "<html lang=en><title>Trial</title><main><h1><span>Leaf</span></h1>"
        "<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='></main>"
    )
    # Without fonts a browser draws nothing, and does not say so.
    assert page.evaluate("document.querySelector('span').getBoundingClientRect().width") > 10
    found = {finding["id"] for finding in Axe().run(page).response["violations"]}
    assert found == {"image-alt"}


def test_pages_share_nothing(page: Page) -> None:
    assert page.context.cookies() == []
    assert page.evaluate("navigator.language") == "en-GB"


@pytest.mark.parametrize("time_round", ["first", "second"])
def test_postgres_answers_and_every_test_starts_empty(postgres: str, time_round: str) -> None:
    import sqlalchemy as sa

    engine = sa.create_engine(postgres)
    with engine.begin() as connection:
        assert sa.inspect(connection).get_table_names() == []
        connection.execute(sa.text("CREATE TABLE leaf (number integer)"))
        assert connection.execute(sa.text("SELECT 1")).scalar_one() == 1
    engine.dispose()


def test_a_missing_helper_says_what_why_and_what_would_bring_it() -> None:
    missing = helpers.HelperMissing(
        what="Chromium", why="npm ci failed: ENOTFOUND", cure=helpers.NPM
    )
    assert str(missing) == (
        "no Chromium (npm ci failed: ENOTFOUND); make test installs it when npm answers"
    )


def test_a_name_in_the_environment_goes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "ffmpeg"
    program.touch()
    monkeypatch.setenv("QUIETLEAF_FFMPEG", str(program))
    assert helpers.find_ffmpeg() == program


def test_a_name_that_leads_nowhere_is_never_a_skip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("QUIETLEAF_BROWSER", str(tmp_path / "nowhere"))
    with pytest.raises(FileNotFoundError, match="QUIETLEAF_BROWSER"):
        helpers.find_browser()
