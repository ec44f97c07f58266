"""Note bodies: CommonMark with tables, in which nothing is trusted."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_source import CASES, VOCABULARY, make_media
from page_reader import PageRead

from kb.site.markdown import Prose
from kb.site.media import Media
from kb.site.names import Names

NOTE, PAGE = "cases/2023/2023-0871.md", "cases/2023-0871.html"


@pytest.fixture(scope="module")
def prose(tmp_path_factory: pytest.TempPathFactory) -> Prose:
    media = make_media(tmp_path_factory.mktemp("book"))
    (media / "drawing.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    (media / "escape.png").symlink_to("/etc/hostname")
    return Prose(Names(VOCABULARY, CASES), Media(media))


def html(prose: Prose, text: str) -> str:
    return str(prose.html(text, NOTE, PAGE))


def test_raw_html_is_shown_as_text(prose: Prose) -> None:
    assert html(prose, "<b onclick=x>hi</b>\n\n<script>1</script>") == (
        "<p>&lt;b onclick=x&gt;hi&lt;/b&gt;</p>\n<p>&lt;script&gt;1&lt;/script&gt;</p>\n"
    )


@pytest.mark.parametrize(
    "target",
    [
        "javascript:alert(1)",
        "JaVaScRiPt:alert(1)",
        "java&#10;script:alert(1)",
        "data:text/html,x",
        "vbscript:x",
        "file:///etc/passwd",
        "mailto:someone@example.org",
        "//example.org/x",
        "/etc/passwd",
        "../../../etc/passwd",
        "../../book.yaml",
        "../../media/drawing.svg",
        "../../media/escape.png",
        "../../media/gone.png",
        "http://[",
    ],
)
def test_a_link_that_may_not_be_followed_keeps_its_words_only(prose: Prose, target: str) -> None:
    made = html(prose, f"[words](<{target}>)") + html(prose, f"![words](<{target}>)")
    assert made.count("words") == 2
    assert "<a" not in made
    assert "<img" not in made


def test_links_to_cases_and_families_lead_to_their_pages(prose: Prose) -> None:
    assert 'href="../cases/2024-0117.html"' in html(prose, "[x](../2024/2024-0117.md)")
    assert 'href="../families/heron-20.html"' in html(prose, "[x](../../families/heron-20.md)")


def test_a_link_away_says_nothing_about_where_it_was_followed(prose: Prose) -> None:
    assert html(prose, "<https://example.org/a?b=1&c>") == (
        '<p><a class="away" rel="noreferrer" href="https://example.org/a?b=1&amp;c">'
        "https://example.org/a?b=1&amp;c</a></p>\n"
    )


def test_the_number_of_another_case_becomes_a_link_and_its_own_does_not(prose: Prose) -> None:
    made = html(prose, "As in 2024-0117, unlike 2023-0871. Not 12024-0117.")
    assert made.count("<a ") == 1
    assert '<a href="../cases/2024-0117.html">2024-0117</a>, unlike' in made


def test_a_case_number_in_code_or_in_a_link_is_left_alone(prose: Prose) -> None:
    assert "<a" not in html(prose, "`2024-0117`")
    assert html(prose, "[see 2024-0117](https://example.org/)").count("<a") == 1


def test_a_picture_of_its_own_becomes_a_figure_with_a_caption(prose: Prose) -> None:
    assert html(prose, '![The vent](../../media/vent.png "C1, *before*")') == (
        '<figure><img src="../media/vent.png" alt="The vent">'
        "<figcaption>C1, *before*</figcaption></figure>\n"
    )


def test_media_may_be_named_from_the_top_of_the_book(prose: Prose) -> None:
    assert 'src="../media/vent.png"' in html(prose, "![The vent](media/vent.png)")


def test_a_missing_picture_leaves_its_words(prose: Prose) -> None:
    assert "[picture: the board]" in html(prose, "![the board](../../media/gone.png)")


def test_a_sound_clip_gets_its_controls(prose: Prose) -> None:
    made = html(prose, "Hear [the hum](../../media/hum.wav).")
    assert '<audio controls preload="none" src="../media/hum.wav"></audio></p>' in made


def test_columns_are_aligned_without_inline_style(prose: Prose) -> None:
    made = html(prose, "| a | b | c |\n| :-- | --: | :-: |\n| 1 | 2 | 3 |")
    assert "style" not in made
    assert re.findall(r'<td class="to-(\w+)">', made) == ["left", "right", "center"]


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("# a\n## b\n# c", [3, 4, 3]),
        ("#### a\n## b\n###### c\n### d", [3, 3, 4, 4]),
        ("### a\n# b", [3, 3]),
        ("# a\n###### b\n###### c\n## d", [3, 4, 4, 4]),
    ],
)
def test_headings_follow_each_other_without_a_gap(
    prose: Prose, written: str, shown: list[int]
) -> None:
    assert [int(n) for n in re.findall(r"<h(\d)>", html(prose, written))] == shown


def test_the_heading_that_is_the_title_of_the_page_is_not_repeated(prose: Prose) -> None:
    made = prose.html("# Warm crackle\n\nText.", NOTE, PAGE, title="Warm crackle")
    assert made == "<p>Text.</p>\n"


def test_the_plain_text_keeps_the_words_and_drops_the_markup(prose: Prose) -> None:
    text = "# T\n\nA *big* [link](x)\nline, `code`\n\n- one\n- two"
    assert prose.plain(text, title="T") == "A big link line, code one two"
    assert prose.plain("") == ""


def test_the_plain_text_of_a_table_parts_its_cells_and_its_rows(prose: Prose) -> None:
    text = "Read:\n\n| a | b |\n|---|---|\n| 1 | 2 |\n| 3 | 4 |\n\nThen *off*."
    assert prose.plain(text) == "Read: a · b; 1 · 2; 3 · 4 Then off."


def test_a_number_is_not_parted_from_its_unit_not_even_by_the_line_break_of_the_writer(
    prose: Prose,
) -> None:
    assert html(prose, "From 47 µF and 450\nV on") == "<p>From 47\xa0µF and 450\xa0V on</p>\n"
    assert html(prose, "V4\nVans, 12 **V**") == "<p>V4\nVans, 12 <strong>V</strong></p>\n"
    assert html(prose, "`12 V`") == "<p><code>12 V</code></p>\n"


@given(st.text(alphabet="<>&\"'[]()!*_`#|-\n :/.\\xa1javscript", max_size=80))
def test_no_text_makes_an_element_or_address_that_is_not_ours(text: str) -> None:
    prose = Prose(Names(VOCABULARY, CASES), Media(Path("nowhere")))
    page = PageRead()
    page.feed(str(prose.html(text, NOTE, PAGE)))
    page.close()
    known = set("p h3 h4 h5 h6 ul ol li blockquote pre code em strong hr br a span div".split())
    known |= set("table thead tbody tr th td".split())
    for tag, attrs in page.elements:
        assert tag in known
        assert set(attrs) <= {"class", "href", "rel", "role", "tabindex", "aria-label", "start"}
        assert attrs.get("href", "http").startswith("http")
