"""The page of study: a past case told step by step, its end kept back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from kb.site.material import Material
from kb.site.pages import how_good
from kb.site.render import Page
from kb.site.study_data import THEMES

PATH = "study.html"


def pages(material: Material) -> Iterator[Page]:
    """The one page; its cases are in `kb.site.study_data`."""
    yield Page(
        path=PATH,
        template="study.html",
        title="Study",
        description="Past cases told step by step: say what it is, then see what was found.",
        section="study",
        values=partial(_values, material),
    )


def address(material: Material, number: str) -> str:
    """Where a case is studied, its first fault first; empty where it can't be."""
    if number not in material.studied:
        return ""
    first = min(one.fault for one in material.study.cases if one.case == number)
    return f"{PATH}?case={number}/{first + 1}" if first else f"{PATH}?case={number}"


def _values(material: Material) -> Mapping[str, object]:
    cases = material.study.cases
    return {
        "study_count": len(cases),
        "themes": [
            (place, name, sum(theme in one.themes for one in cases))
            for place, (theme, name) in enumerate(THEMES.items())
        ],
        "how_good": how_good.PAGE if material.tells_how_good else None,
    }
