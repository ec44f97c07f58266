"""The stylesheet: colours that can be read, and nothing fetched."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kb.site.stylesheet import FOLDER, ORDER, SHEETS, sheets

ON = {
    "ground": ("ink", "soft", "link", "trace", "flag"),
    "card": ("ink", "soft", "link", "trace", "flag"),
    "sunk": ("ink", "soft", "link", "flag"),
    "caution": ("caution-ink",),
    "plate": ("plate-ink", "plate-soft"),
    "mark": ("ink", "link"),
}


@pytest.fixture(scope="module")
def stylesheet(templates: Path) -> str:
    return "".join((templates / FOLDER / f"{name}.css").read_text("utf-8") for name in ORDER)


def tokens(stylesheet: str, scheme: str) -> dict[str, str]:
    """The colour tokens of a scheme; dark ones stand over the light ones."""
    blocks = re.findall(r":root \{(.*?)\}", stylesheet, re.S)
    found: dict[str, str] = {}
    for block in blocks[:1] if scheme == "light" else blocks[:2]:
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))
    return found


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_computed_as_the_standard_says() -> None:
    # WCAG 2.2, definition of contrast ratio: 21 for black on white, 1 for equal colours.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1
    # The grey that is widely given as the darkest to fail on white, #777: 4.48 (from memory).
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("ground", ON)
def test_text_has_the_contrast_of_level_aa(ground: str, scheme: str, stylesheet: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1.
    colours = tokens(stylesheet, scheme)
    ratios = {ink: contrast(colours[ink], colours[ground]) for ink in ON[ground]}
    assert {ink: round(ratio, 2) for ink, ratio in ratios.items() if ratio < 4.5} == {}


def test_the_stylesheet_fetches_nothing(stylesheet: str) -> None:
    assert "url(" not in stylesheet
    assert "@import" not in stylesheet
    assert "@font-face" not in stylesheet


def test_colours_stand_in_the_tokens_and_nowhere_else_but_on_amber_and_paper(
    stylesheet: str,
) -> None:
    on_screen = re.sub(r"@media print \{.*?\n\}\n", "", stylesheet, flags=re.S)
    rules = re.sub(r":root \{.*?\}", "", on_screen, flags=re.S)
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", rules)) == {"#17130a", "#1b1505"}


def test_every_part_of_the_stylesheets_is_known_used_and_short(templates: Path) -> None:
    parts = {path.stem: path for path in (templates / FOLDER).iterdir()}
    assert parts.keys() == set(ORDER) == {part for used in SHEETS.values() for part in used}
    assert [name for name, path in parts.items() if path.read_text("utf-8").count("\n") > 250] == []


def test_what_a_page_loads_is_free_of_comments_and_has_every_rule(templates: Path) -> None:
    for name, sheet in sheets(templates).items():
        assert "/*" not in sheet, name
        source = "".join(
            (templates / FOLDER / f"{part}.css").read_text("utf-8")
            for part in SHEETS[name.removesuffix(".css")]
        )
        assert sheet.count("{") == source.count("{"), name
        assert len(sheet) < len(source), name


def test_every_page_that_a_template_makes_names_a_stylesheet_that_is_there(
    templates: Path,
) -> None:
    named = {
        look
        for path in templates.glob("*.html")
        for look in re.findall(r"block look %\}([\w-]+)\{%", path.read_text("utf-8"))
    }
    assert named == SHEETS.keys()
