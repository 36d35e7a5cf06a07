"""Codes of a second factor against the vectors of both RFCs."""

from __future__ import annotations

import base64

import pytest

from quietleaf.storage.one_time_codes import (
    RECOVERY_CODES,
    code_of_step,
    new_factor_secret,
    new_recovery_codes,
    step_at,
    step_of_code,
    typed_code,
)

SECRET = base64.b32encode(b"12345678901234567890").decode()
"""Of both RFCs' vectors for SHA-1."""
RFC_4226_APPENDIX_D = (
    *("755224", "287082", "359152", "969429", "338314"),
    *("254676", "287922", "162583", "399871", "520489"),
)
RFC_6238_APPENDIX_B = {
    59: "94287082",
    1_111_111_109: "07081804",
    1_111_111_111: "14050471",
    1_234_567_890: "89005924",
    2_000_000_000: "69279037",
    20_000_000_000: "65353130",
}


@pytest.mark.parametrize(("count", "code"), [*enumerate(RFC_4226_APPENDIX_D)])
def test_the_vectors_of_counted_codes(count: int, code: str) -> None:
    assert code_of_step(SECRET, count) == code


@pytest.mark.parametrize(("seconds", "code"), [*RFC_6238_APPENDIX_B.items()])
def test_the_vectors_of_timed_codes(seconds: int, code: str) -> None:
    assert code_of_step(SECRET, step_at(seconds), figures=8) == code
    # The figures that a telephone shows are the last six of those.
    assert step_of_code(SECRET, code[-6:], seconds) == step_at(seconds)


def test_half_a_minute_either_way_is_taken_and_no_more() -> None:
    now = 1_000 * 30.0
    steps = [step_of_code(SECRET, code_of_step(SECRET, step), now) for step in range(998, 1_003)]
    assert steps == [None, 999, 1_000, 1_001, None]
    assert step_of_code(SECRET, code_of_step(SECRET, 1_000), now + 59.9) == 1_000
    for other in ("", "755224", "٧٥٥٢٢٤", "x" * 500):
        assert step_of_code(SECRET, other, now) is None


def test_secrets_and_recovery_codes_are_random_and_long_enough() -> None:
    secret = new_factor_secret()
    assert len(base64.b32decode(secret)) == 20
    assert secret != new_factor_secret()
    codes = new_recovery_codes()
    assert len(set(codes)) == len(codes) == RECOVERY_CODES
    for code in codes:
        assert len(base64.b32decode(typed_code(code))) == 15
        assert typed_code(f" {code.lower().replace('-', ' ')}\n") == typed_code(code)
