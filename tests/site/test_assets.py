"""What pages load besides data: scripts without comments and idle space, and nothing else changed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kb.site.assets import FOLDER, assets


def words(script: str) -> list[str]:
    """Texts of several words, which hold the only space that means anything."""
    return re.findall(r'"(?:[\w“(][^"\\\n]* [^"\\\n]*)"', script)


def test_scripts_lose_comments_and_space_and_nothing_else(templates: Path) -> None:
    lean = assets(templates)
    scripts = sorted((templates / FOLDER).glob("*.js"))
    assert len(scripts) > 25
    for path in scripts:
        source, made = path.read_text("utf-8"), lean[path.name].decode("utf-8")
        bare = re.sub(r"/\*.*?\*/", "", source, flags=re.S)
        assert "".join(made.split()) == "".join(bare.split()), path.name
        assert sorted(words(made)) == sorted(words(bare)), path.name
        assert "/*" not in made, path.name
        assert len(made) < 0.85 * len(source), path.name


def test_every_file_that_a_template_names_is_there(templates: Path) -> None:
    named = {
        name
        for path in templates.rglob("*.html")
        for name in re.findall(r"assets/([\w-]+\.(?:js|svg))", path.read_text("utf-8"))
    }
    there = {name for name in assets(templates) if not name.endswith(".css")}
    assert named == there


@pytest.mark.parametrize("name", ["mark.svg", "page.css"])
def test_stylesheets_and_the_mark_are_among_them(name: str, templates: Path) -> None:
    assert assets(templates)[name]
