"""Make the pictures of `docs/pictures.md`: every type of page, and what the commands print.

    python docs/make_pictures.py [--out docs]

Writes `pictures/*.png` and `pictures.md` there, from the sample book. Needs Chromium on the
machine, Playwright, Pillow, and pypdfium2 for the printed pages: `pip install -e ".[pictures]"`.
"""

from __future__ import annotations

import argparse
import html
import io
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pypdfium2
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from kb.book import Book
from kb.resources import sample_book

COLOURS = 48
"""enough for flat colours and smooth letters; a picture is then a third as large"""
WIDE, NARROW = (1280, 1240), (390, 1300)
"""width and most height in pixels: what is below it shows nothing new"""
PAPER_SCALE = 1.15
COLUMNS = 80
MOST_LINES = 58


class Sort(NamedTuple):
    """A type of page: its name in file names, where the site has it, and what to say of it.

    `address` is what stands behind the page's own address, `search` what is typed into its box,
    `top` the part of the page that the picture starts with.
    """

    name: str
    pattern: str
    caption: str
    address: str = ""
    search: str = ""
    top: str = ""


_SHEET = "#unit=drover-22&there=hum&not=crackle&made=tap-valves:no-change&access=open"
_HIGH_ESR = "causes/electrolytic-capacitor/high-esr.html"
SORTS = (
    Sort("home", "index.html", "Home: what is on the bench, what is new, what stands out"),
    Sort("bench", "bench.html", "At the bench: two symptoms and a check ticked", address=_SHEET),
    Sort("search", "search.html", "Search: the best first, the words marked", search="hum warm "),
    Sort("cases", "cases.html", "All cases, newest first"),
    Sort("case", "cases/2023-0003.html", "A case: the job card, and the way to the cause"),
    Sort("owner-sheet", "sheets/2023-0003.html", "The owner’s sheet of a case"),
    Sort("families", "families.html", "The model families by line"),
    Sort("family", "families/drover-22.html", "A family: what it is, how it is built"),
    Sort("family-shown", "families/drover-22.html", "A family: what it has shown so far",
         top="#weak-points"),
    Sort("symptom", "symptoms/hum.html", "A symptom: what it usually was"),
    Sort("cause", _HIGH_ESR, "A cause: how to prove it, where it was found"),
    Sort("check", "checks/tap-valves.html", "A check: its cautions, how it is made, what it told"),
    Sort("chart", "charts/*/*.html", "A chart of checks", top='h2:has-text("What to check")'),
    Sort("weak-points", "weak-points.html", "What keeps failing, family by family"),
    Sort("spares", "drawer.html", "Spares: what last year’s repairs took, to print and tick"),
    Sort("how-good", "how-good.html", "How good the ranking has been"),
    Sort("study", "study.html", "Study: past cases with their end kept back"),
    Sort("study-case", "study.html", "Study: a case, told one step at a time",
         address="?case=2023-0003"),
    Sort("safety", "safety.html", "Safety: every caution in one place"),
)  # fmt: skip
COMMANDS = (
    ("weak-points", ["weak-points", "drover-22"], "What keeps failing in one family"),
    ("while-open", ["while-open", "drover-22"], "What else to look at while a unit is open"),
    ("comebacks", ["comebacks"], "Which repairs came back"),
    ("readings", ["readings", "drover-22"], "What a healthy unit measures"),
    ("diagnose", ["diagnose", "hums", "--family", "drover-22", "--access", "open"],
     "Likely causes, and what to try next"),
    ("replay", ["replay"], "How well the past would have been answered"),
)  # fmt: skip
# Ink on the paper of a line printer: a strip of output, and nobody's window.
STRIP = """<!doctype html><meta charset="utf-8"><style>
body {{ margin: 0; background: #f4f1e8; color: #23262b; }}
main {{ padding: 22px 30px 26px; display: inline-block; }}
h1 {{ font: 600 15px/1.3 "DejaVu Sans Mono", monospace; margin: 0 0 12px; padding: 0 0 9px;
     border-bottom: 2px solid #c9c2ae; color: #7a3e12; }}
pre {{ font: 14px/1.42 "DejaVu Sans Mono", monospace; margin: 0; width: {columns}ch; }}
</style><main><h1>{command}</h1><pre>{output}</pre></main>"""


def page_of(site: Path, sort: Sort) -> Path | None:
    """The page that stands for a type, the largest where several do; None where there is none."""
    found = sorted(site.glob(sort.pattern), key=lambda page: (page.stat().st_size, page))
    if not found and "/" in sort.pattern:  # a book without this very term has others
        folder = sort.pattern.partition("/")[0]
        found = sorted(site.glob(f"{folder}/**/*.html"), key=lambda page: page.stat().st_size)
    return found[-1] if found else None


def opened(browser: Browser, file: Path, sort: Sort, width: int, dark: bool) -> Page:
    """A new page of this width, in the state that the picture is to show."""
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme="dark" if dark else "light"
    )
    page = context.new_page()
    page.goto(file.as_uri() + sort.address)
    if sort.search:
        page.get_by_label("Search the cases").fill(sort.search)
        page.locator(".hits .number").first.wait_for()
    page.wait_for_timeout(400)
    return page


def screen(
    browser: Browser, file: Path, sort: Sort, size: tuple[int, int], dark: bool
) -> Image.Image:
    """The page on a screen, cut off below the most height."""
    width, most = size
    page = opened(browser, file, sort, width, dark)
    whole = page.evaluate("document.documentElement.scrollHeight")
    top = 0
    if sort.top and (part := page.query_selector(sort.top)):
        top = max(0, int((part.bounding_box() or {"y": 0})["y"]) - 24)
    tall = min(most, whole - top)
    page.set_viewport_size({"width": width, "height": tall})
    shot = page.screenshot(clip={"x": 0, "y": top, "width": width, "height": tall}, full_page=True)
    page.context.close()
    return Image.open(io.BytesIO(shot))


def printed(browser: Browser, file: Path, sort: Sort) -> Image.Image:
    """The first sheet of paper, A4, as the browser prints it."""
    page = opened(browser, file, sort, WIDE[0], dark=False)
    document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True, format="A4"))
    page.context.close()
    bitmap = document[0].render(scale=PAPER_SCALE)
    return bitmap.to_pil()


def strip(browser: Browser, output: str, words: list[str]) -> Image.Image:
    """What a command printed, with the command above it."""
    lines = output.rstrip().split("\n")
    if len(lines) > MOST_LINES:
        lines = [*lines[:MOST_LINES], "…"]
    command = html.escape(" ".join(["benchbook", *words]))
    page = browser.new_page(viewport={"width": 800, "height": 400})
    page.set_content(
        STRIP.format(command=command, output=html.escape("\n".join(lines)), columns=COLUMNS)
    )
    shot = page.locator("main").screenshot()
    page.close()
    return Image.open(io.BytesIO(shot))


def ran(words: list[str], cache: str) -> str:
    """What a command prints on a terminal of eighty columns that shows no colours."""
    program = "from kb.cli import main; main()"
    command = [sys.executable, "-c", program, "--cache", cache, "--book", str(sample_book())]
    settings = {**os.environ, "COLUMNS": str(COLUMNS), "PYTHONIOENCODING": "utf-8"}
    made = subprocess.run(
        [*command, *words], capture_output=True, check=True, encoding="utf-8", env=settings
    )
    return made.stdout


def save(picture: Image.Image, place: Path) -> None:
    """Write a picture with few colours."""
    flat = picture.convert("RGB").quantize(
        COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE
    )
    flat.save(place, optimize=True)


def pictures_of_pages(browser: Browser, site: Path, out: Path) -> Iterator[str]:
    """Write four pictures of every type of page; yields their lines of the document."""
    for sort in SORTS:
        file = page_of(site, sort)
        if file is None:
            continue
        views = {
            "wide": screen(browser, file, sort, WIDE, dark=False),
            "narrow": screen(browser, file, sort, NARROW, dark=False),
            "dark": screen(browser, file, sort, WIDE, dark=True),
            "printed": printed(browser, file, sort),
        }
        yield f"## {sort.caption}\n"
        for view, picture in views.items():
            save(picture, out / f"{sort.name}-{view}.png")
            yield f"![{sort.name}, {VIEWS[view]}](pictures/{sort.name}-{view}.png)\n"


VIEWS = {
    "wide": "on a wide screen",
    "narrow": "390 pixels wide",
    "dark": "in the dark",
    "printed": "on paper, the first sheet",
}


def pictures_of_commands(browser: Browser, out: Path, cache: str) -> Iterator[str]:
    """Write a picture of what each command prints; yields their lines of the document."""
    for name, words, caption in COMMANDS:
        save(strip(browser, ran(words, cache), words), out / f"command-{name}.png")
        yield f"## {caption}\n"
        yield f"![benchbook {' '.join(words)}](pictures/command-{name}.png)\n"


def main() -> None:
    """Make all of them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--out", type=Path, default=Path(__file__).parent)
    out: Path = options.parse_args().out
    pictures = out / "pictures"
    pictures.mkdir(parents=True, exist_ok=True)
    for old in pictures.glob("*.png"):
        old.unlink()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with (
        tempfile.TemporaryDirectory() as aside,
        sync_playwright() as playwright,
    ):
        cache, site = f"{aside}/cache", Path(aside) / "site"
        with Book.open(sample_book(), cache) as book:
            book.write_site(site)
        browser = playwright.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        lines = [
            "# Pictures\n",
            "Of the sample book, made by `docs/make_pictures.py`. Long pages are cut off.\n",
            *pictures_of_pages(browser, site, pictures),
            "# What the commands print\n",
            *pictures_of_commands(browser, pictures, cache),
        ]
        browser.close()
    (out / "pictures.md").write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
