"""Owner's sheets of the invented book, as values and as pages."""

from __future__ import annotations

import re

from invented_source import CASES, VOCABULARY
from page_reader import PageRead

from kb.notes.case import Case
from kb.notes.settings import Settings
from kb.notes.vocabulary import Vocabulary
from kb.owner_checks import habits
from kb.owner_sheets import OwnerSheets
from kb.resources import site_templates
from kb.site.alone import sheet_alone
from kb.site.redaction import without
from kb.values_owner import OwnerSheet


def sheet(case: Case, *hide: str, words: Vocabulary = VOCABULARY) -> OwnerSheet:
    """The sheet of a case in the invented book."""
    settings = Settings(title="Weaver’s Yard", currency="GBP", hide=hide)
    published = [without(one, hide) for one in (*CASES, case)]
    return OwnerSheets(settings, words, habits(published, words)).of(published[-1])


def document(made: OwnerSheet) -> str:
    """The sheet as an HTML document of its own."""
    return sheet_alone(made, site_templates())


def page(made: OwnerSheet) -> PageRead:
    """The same read, its style left out."""
    reader = PageRead()
    reader.feed(re.sub(r"(<style>).*?(</style>)", r"\1\2", document(made), flags=re.DOTALL))
    reader.close()
    return reader


def text(case: Case, *hide: str) -> str:
    """What the sheet of a case in the invented book says."""
    return page(sheet(case, *hide)).text
