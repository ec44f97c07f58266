"""Bodies of notes against examples of the CommonMark specification that have bitten others.

Source: John MacFarlane, CommonMark Spec, version 0.31.2, the section named beside each example.
Ours differs on purpose in three things: headings are moved below the page's own, links that lead
nowhere in the book lose their way, and raw HTML is text. So the examples avoid those.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from kb.notes.case import Case, Fault
from kb.notes.vocabulary import Vocabulary
from kb.site.markdown import Prose
from kb.site.media import Media
from kb.site.names import Names

EXAMPLES = [
    # 2.2 Tabs
    ("\tfoo\tbaz\t\tbim\n", "<pre><code>foo\tbaz\t\tbim\n</code></pre>\n"),
    # 4.1 Thematic breaks
    ("_ _ _ _ a\n\na------\n\n---a---\n", "<p>_ _ _ _ a</p>\n<p>a------</p>\n<p>---a---</p>\n"),
    (" *-*\n", "<p><em>-</em></p>\n"),
    # 4.2 ATX headings: a part number is no heading
    ("#5 bolt\n\n#hashtag\n", "<p>#5 bolt</p>\n<p>#hashtag</p>\n"),
    ("\\## foo\n", "<p>## foo</p>\n"),
    ("foo\n    # bar\n", "<p>foo\n# bar</p>\n"),
    # 4.3 Setext headings
    ("Foo\nbar\n\\---\nbaz\n", "<p>Foo\nbar\n---\nbaz</p>\n"),
    # 4.4 Indented code blocks: what looks like markup in them is none
    ("    <a/>\n    *hi*\n\n    - one\n", "<pre><code>&lt;a/&gt;\n*hi*\n\n- one\n</code></pre>\n"),
    ("Foo\n    bar\n\n", "<p>Foo\nbar</p>\n"),
    # 5.2 List items: a line that starts with a number inside a paragraph starts no list
    (
        "The number of windows in my house is\n14.  The number of doors is 6.\n",
        "<p>The number of windows in my house is\n14.  The number of doors is 6.</p>\n",
    ),
    # 6.2 Emphasis: not inside words for underscores, as in names of parts
    ("foo_bar_\n", "<p>foo_bar_</p>\n"),
    ("5_6_78\n", "<p>5_6_78</p>\n"),
    ("5*6*78\n", "<p>5<em>6</em>78</p>\n"),
    # 2.5 Entities
    ("&nbsp; &amp; &copy;\n", "<p>\u00a0 &amp; ©</p>\n"),
]


@pytest.fixture(scope="module")
def prose() -> Prose:
    return Prose(Names(Vocabulary(), []), Media(None))


@pytest.mark.parametrize(("markdown", "html"), EXAMPLES)
def test_a_body_is_rendered_as_the_specification_says(prose: Prose, markdown: str, html: str):
    assert str(prose.html(markdown, "cases/a.md", "cases/a.html")) == html


@pytest.mark.parametrize(
    ("body", "title"),
    [
        ("# foo *bar* \\*baz\\*\n", "foo *bar* \\*baz\\*"),  # 4.2, contents are inlines
        ("#                  foo                     \n", "foo"),  # 4.2, blanks are ignored
        ("## foo ##\n", "foo"),  # 4.2, closing sequence
        ("# foo#\n", "foo#"),  # 4.2, which needs a space before it
        ("### foo ### b\n", "foo ### b"),
        ("Foo *bar*\n=========\n", "Foo *bar*"),  # 4.3
        ("Foo\n   ----      \n", "Foo"),
        ("#5 bolt\n", "the complaint"),  # 4.2, no space, no heading
        ("####### foo\n", "the complaint"),  # 4.2, more than six
        ("    # foo\n", "the complaint"),  # 4.2, four spaces are code
        ("#\n", "the complaint"),  # 4.2, an empty heading names nothing
        ("- foo\n-----\n", "the complaint"),  # 4.3, a list and a break
        ("Text first.\n\n# foo\n", "the complaint"),
    ],
)
def test_the_title_of_a_case_is_what_the_specification_calls_a_heading(body: str, title: str):
    case = Case("A", "f", dt.date(2024, 1, 1), "the complaint", "a.md", (Fault(),), body=body)
    assert case.title == title


def test_the_media_folder_is_not_needed_for_text(prose: Prose, tmp_path: Path):
    assert "[picture: x]" in str(prose.html("![x](media/x.jpg)", "cases/a.md", "cases/a.html"))
