"""The static site: pages from values, for a tablet beside the unit, from a folder or a stick.

This layer knows the values and the notes, and nothing of files, databases or statistics. What it
shows is handed over by the composer as a `Source`.
"""

from kb.site.folder import SiteRefused
from kb.site.redaction import HideError
from kb.site.source import BenchTables, Cautions, SearchWords, SiteReport, Source
from kb.site.write import write_site

__all__ = [
    "BenchTables",
    "Cautions",
    "HideError",
    "SearchWords",
    "SiteRefused",
    "SiteReport",
    "Source",
    "write_site",
]
