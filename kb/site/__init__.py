"""The static site: pages from values, for a tablet beside the unit, from a folder or a stick.

This layer knows the values and the notes, and nothing of files, databases or statistics. What it
shows is handed over by the composer as a `Source`.
"""

from kb.site.folder import SiteRefused
from kb.site.looks_private import PrivateLooking
from kb.site.redaction import HideError
from kb.site.source import (
    BenchTables,
    Cautions,
    NameOfSymptom,
    Pairs,
    SearchWords,
    SiteReport,
    Source,
    Study,
    StudyCase,
)
from kb.site.write import write_site

__all__ = [
    "BenchTables",
    "Cautions",
    "HideError",
    "NameOfSymptom",
    "Pairs",
    "PrivateLooking",
    "SearchWords",
    "SiteRefused",
    "SiteReport",
    "Source",
    "Study",
    "StudyCase",
    "write_site",
]
