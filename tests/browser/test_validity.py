"""The pages against the Nu Html Checker, the validator of the HTML standard's own community."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from page_reader import pages

pytestmark = pytest.mark.browser

Validator = Callable[..., list[str]]


def test_the_checker_finds_what_is_wrong(validator: Validator, tmp_path: Path) -> None:
    (tmp_path / "bad.html").write_text("<!doctype html><title>x</title><p><table><p></table>")
    assert validator(tmp_path / "bad.html")


def test_every_page_tame_or_hostile_is_valid_html(
    validator: Validator, tame: Path, hostile: Path
) -> None:
    assert validator(*pages(tame), *pages(hostile)) == []
