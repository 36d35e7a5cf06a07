"""The table of settings."""

import pytest

from quietleaf.errors import Invalid
from quietleaf.settings import SETTINGS, read_settings


def test_every_setting_has_a_row_with_a_default_and_help() -> None:
    names = [setting.name for setting in SETTINGS]
    assert len(names) == len(set(names))
    assert all(setting.help and setting.unit for setting in SETTINGS)
    assert read_settings({}) == {setting.name: setting.default for setting in SETTINGS}


def test_the_environment_goes_before_the_default() -> None:
    assert read_settings({"QUIETLEAF_PORT": "9000"})["port"] == 9000
    assert read_settings({"QUIETLEAF_DATA": "/srv/readings"})["data"] == "/srv/readings"


def test_a_value_of_the_wrong_kind_is_refused_with_what_it_is_for() -> None:
    with pytest.raises(Invalid, match="where the pages are served"):
        read_settings({"QUIETLEAF_PORT": "eight"})
