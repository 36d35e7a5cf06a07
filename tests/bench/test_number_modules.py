"""Modules of learned numbers: writing what they hold leaves them as they are."""

import shutil
from pathlib import Path
from types import ModuleType

import pytest

from bench.number_modules import text_constant, write_constants
from quietleaf.listening import phone_numbers, sound_kind_numbers

pytestmark = pytest.mark.bench


@pytest.mark.parametrize(
    ("module", "names"), [(phone_numbers, ["NET"]), (sound_kind_numbers, ["TREES", "EVENT_TREES"])]
)
def test_what_is_held_is_written_as_it_stands(
    module: ModuleType, names: list[str], tmp_path: Path
) -> None:
    was = Path(module.__file__ or "")
    written = tmp_path / was.name
    shutil.copy(was, written)
    texts = ["".join(getattr(module, name).split()) for name in names]
    write_constants(written, map(text_constant, names, texts))
    assert written.read_bytes() == was.read_bytes()
