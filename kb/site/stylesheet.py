"""The stylesheet in its parts, so that a page loads those that it can need.

There is one, `assets/bench.css`, and each part of it stands under a heading between dashes.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

WHOLE = "bench.css"
LIGHT = "page.css"
"""the stylesheet of the pages without scripts, made from the whole"""
_HEADING = re.compile(r"^/\* -{20,} (.+) \*/\n", re.MULTILINE)
_FOR_SCRIPTS = (
    "at the bench: the tick sheet",
    "study: a case retold, and the apprentice's notebook",
    "search: the job cards that were found",
)
"""What only a script puts on a page, or only a page that has one."""


def parts(stylesheet: str) -> Mapping[str, str]:
    """Heading -> text of that part, in order; what stands above the first has no heading."""
    first, *rest = _HEADING.split(stylesheet)
    return {"": first, **dict(zip(rest[::2], rest[1::2], strict=True))}


def with_parts(stylesheet: str, wanted: Collection[str]) -> str:
    """These parts alone, in the order of `wanted`. Raises KeyError for one that is not there."""
    found = parts(stylesheet)
    return "".join(found[name] for name in wanted)


def light(stylesheet: str) -> str:
    """The stylesheet without the parts that a page without scripts can't need."""
    return with_parts(stylesheet, [name for name in parts(stylesheet) if name not in _FOR_SCRIPTS])
