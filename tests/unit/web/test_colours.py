"""Colours: every pair that meets on a page is told apart, by the formula of WCAG 2.2.

Contrast = (L1 + 0.05) / (L2 + 0.05), L the relative luminance of linearised sRGB (WCAG 2.2,
definitions; 1.4.3 text 4.5:1, 1.4.11 lines and focus 3:1).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import quietleaf.web

STYLE = (Path(quietleaf.web.__path__[0]) / "static" / "style.css").read_text(encoding="utf-8")
TEXT, LINE = 4.5, 3.0
PAIRS = (
    ("ink", "paper", TEXT),
    ("ink", "wash", TEXT),
    ("soft-ink", "paper", TEXT),
    ("soft-ink", "wash", TEXT),
    ("accent", "paper", TEXT),
    ("accent", "wash", TEXT),
    ("paper", "accent", TEXT),
    ("rule", "paper", LINE),
)


def schemes() -> dict[str, dict[str, str]]:
    """Give the tokens of each way in which the page can look; later rules go over earlier ones."""
    blocks = [
        (query, dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block)))
        for query, block in re.findall(
            r"(?:@media ([^{]+) \{\s*)?:root \{([^}]*)\}", STYLE, re.DOTALL
        )
    ]
    looks = {
        "light": {"": True},
        "dark": {"": True, "(prefers-color-scheme: dark)": True},
        "light, more contrast": {"": True, "(prefers-contrast: more)": True},
    }
    looks["dark, more contrast"] = looks["dark"] | {
        "(prefers-contrast: more)": True,
        "(prefers-contrast: more) and (prefers-color-scheme: dark)": True,
    }
    assert {query for query, _ in blocks} == set(looks["dark, more contrast"])
    return {
        look: {
            token: value
            for query, tokens in blocks
            if query in met
            for token, value in tokens.items()
        }
        for look, met in looks.items()
    }


def contrast(one: str, other: str) -> float:
    """Give the contrast of two colours written ``#rrggbb``."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Give the relative luminance of a colour."""
    channels = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in channels
    ]
    return sum(
        weight * value for weight, value in zip((0.2126, 0.7152, 0.0722), linear, strict=True)
    )


def test_the_formula_gives_the_known_values() -> None:
    # Worked values: black on white 21, #767676 4.54, #777777 4.48.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize(("one", "other", "least"), PAIRS)
@pytest.mark.parametrize("look", ["light", "dark", "light, more contrast", "dark, more contrast"])
def test_a_pair_is_told_apart(look: str, one: str, other: str, least: float) -> None:
    tokens = schemes()[look]
    assert contrast(tokens[one], tokens[other]) >= least


def test_more_contrast_is_more() -> None:
    looks = schemes()
    for scheme in ("light", "dark"):
        for one, other, _ in PAIRS:
            plain, more = looks[scheme], looks[f"{scheme}, more contrast"]
            assert contrast(more[one], more[other]) >= contrast(plain[one], plain[other])


def test_no_colour_is_written_outside_the_tokens() -> None:
    rules = re.sub(r":root \{[^}]*\}", "", STYLE)
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b(?=[^{]*;)|rgb|hsl", rules)


def test_sizes_follow_the_browsers_own_and_none_is_small() -> None:
    # 1 rem is 18 px at the usual setting: 0.9 rem is 16.2 px.
    sizes = [float(size) for size in re.findall(r"font-size: ([\d.]+)rem", STYLE)]
    assert sizes
    assert min(sizes) * 18 >= 16.0
    assert "font-size: 112.5%" in STYLE
    on_screen = STYLE.partition("@media print")[0]
    assert not re.search(r"font(-size)?: [^;]*\d(px|pt)\b", on_screen)
