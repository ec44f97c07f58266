"""The invented book written as a site, tame and hostile, once for all tests here."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented_source import InventedSource, hostile_source, make_media

from kb.resources import site_templates
from kb.site import write_site


@pytest.fixture(scope="session")
def templates() -> Path:
    return site_templates()


@pytest.fixture(scope="session")
def tame(tmp_path_factory: pytest.TempPathFactory, templates: Path) -> Path:
    media = make_media(tmp_path_factory.mktemp("book"))
    folder = tmp_path_factory.mktemp("tame")
    write_site(InventedSource(media_folder=media), folder, templates)
    return folder


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory, templates: Path) -> Path:
    media = make_media(tmp_path_factory.mktemp("book"))
    folder = tmp_path_factory.mktemp("hostile")
    write_site(hostile_source(media), folder, templates)
    return folder
