"""How long the bench page takes to work everything out again after a tick; prints a table.

    python tests/benchmarks/bench_page_speed.py SITE

SITE is a folder that `benchbook site` wrote. Needs Playwright and the command `chromium`.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

TICKS = 200
FRAME = 16.0
"""milliseconds from one picture of a screen to the next"""

TIMED = """ticks => {
    const boxes = [...document.querySelectorAll("#symptom-groups input")], took = [];
    let seed = 6;
    const draw = n => (seed = (seed * 1103515245 + 12345) % 2147483648) % n;
    const timed = act => {
        const start = performance.now();
        act();
        const worked = performance.now();
        document.body.getBoundingClientRect();
        took.push([worked - start, performance.now() - start]);
    };
    const family = document.getElementById("family");
    for (let i = 0; i < ticks; i += 1) {
        if (i % 10 === 0) {
            document.getElementById("clear").click();
            family.selectedIndex = draw(family.options.length);
            timed(() => family.dispatchEvent(new Event("change")));
            document.getElementsByName("access")[1].click();
        } else if (i % 3 === 0 && document.querySelector("#proposals .tick")) {
            const outcomes = document.querySelectorAll("#proposals .tick");
            timed(() => outcomes[draw(outcomes.length)].click());
        } else {
            timed(() => boxes[draw(boxes.length)].click());
        }
    }
    return took;
}"""


def main(site: Path) -> None:
    files = ["bench.html", "assets/bench.css", "data/bench.js", "data/bench-later.js"]
    files += sorted(
        f"assets/{path.name}"
        for path in (site / "assets").glob("*.js")
        if f"assets/{path.name}" in (site / "bench.html").read_text("utf-8")
    )
    for file in files:
        print(f"{(site / file).stat().st_size:>9,} bytes  {file}")
    with sync_playwright() as running:
        browser = running.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto((site / "bench.html").as_uri())
        page.get_by_label("Find a symptom").focus()  # the rest of the tables is fetched then
        page.wait_for_function("() => Array.isArray(benchTables.topics)")
        took = page.evaluate(TIMED, TICKS)
        browser.close()
    print(f"\n{len(took)} ticks, ms           median    95 %     most   within {FRAME:g} ms")
    for name, place in (("worked out and shown", 0), ("laid out as well", 1)):
        times = sorted(times[place] for times in took)
        within = sum(time <= FRAME for time in times) / len(times)
        print(
            f"{name:<24}{times[len(times) // 2]:>8.1f}{times[int(0.95 * len(times))]:>8.1f}"
            f"{times[-1]:>9.1f}{within:>9.0%}"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
