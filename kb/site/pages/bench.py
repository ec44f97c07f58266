"""The bench page: what a unit does and what its checks showed, ranked in the browser."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from kb import cautions
from kb.notes.vocabulary import ACCESS
from kb.site.material import Material
from kb.site.pages import how_good
from kb.site.render import Page

PATH = "bench.html"


def pages(material: Material) -> Iterator[Page]:
    """The one page; its tables are in `kb.site.bench_data`."""
    yield Page(
        path=PATH,
        template="bench.html",
        title="At the bench",
        description="Tick what a unit does and what the checks showed: likely causes, next checks.",
        section="bench",
        values=partial(_values, material),
    )


def _values(material: Material) -> Mapping[str, object]:
    told = material.cautions
    return {
        "levels": [(level, told.access.get(level, ())) for level in ACCESS[1:]],
        "how_good": how_good.PAGE if material.tells_how_good else None,
        "how_good_said": how_good.summary(material.replay),
        "ask_danger": cautions.ASK_DANGER,
        "keep_closed": cautions.KEEP_CLOSED,
        "local_codes": cautions.LOCAL_CODES,
    }
