"""One page of every type of a site, and how to bring it into the state that does the most work."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

TICKED = "unit=drover-22&there=hum&not=crackle&made=tap-valves:no-change&access=open"
"""A sheet of the sample book's bench page with something in each of its parts."""


def page_types(site: Path) -> dict[str, str]:
    """Name of the type -> path in the site. Pages at the top are each a type of their own; of those
    in a folder the largest stands for all, and of cases also the largest that is still open.
    """
    found = {page.stem: page.name for page in site.glob("*.html")}
    for folder in site.iterdir():
        if inner := sorted(folder.rglob("*.html"), key=lambda page: (page.stat().st_size, page)):
            found[f"{folder.name}/*"] = inner[-1].relative_to(site).as_posix()
    still_open = [p for p in site.glob("cases/*.html") if not (site / "sheets" / p.name).exists()]
    if still_open:
        largest = max(still_open, key=lambda page: page.stat().st_size)
        found["cases/* open"] = largest.relative_to(site).as_posix()
    return dict(sorted(found.items()))


def open_page(page: Page, home: str, path: str) -> None:
    """Open a page of the site at an address, and have it answer something if it can."""
    page.goto("about:blank")  # only a new page reads what stands behind its #
    page.goto(f"{home}/{path}" + (f"#{TICKED}" if path == "bench.html" else ""))
    if path == "bench.html":
        page.locator("#causes > li").first.wait_for()
    elif path == "search.html":
        page.get_by_label("Search the cases").fill("hum when warm ")
        page.locator(".hits .number").first.wait_for()
