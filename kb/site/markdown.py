"""Note bodies and write-ups: CommonMark with tables, nothing in it trusted.

Raw HTML is shown as text. Links lead to cases, families and sound clips of the book, or away over
http(s); any other link keeps its words and loses its way. Pictures come from the media folder.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator
from urllib.parse import unquote, urlsplit

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup, escape

from kb.site import wording
from kb.site.addresses import root_of
from kb.site.media import Media, Medium
from kb.site.names import Names

_CASE_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{3,}[A-Za-z0-9]")
_HOST = re.compile(r"[A-Za-z0-9.-]+")
_PARTED = {
    **dict.fromkeys(
        [
            ("inline", "th_close"), ("inline", "td_close"),
            ("th_close", "tr_close"), ("td_close", "tr_close"), ("tr_close", "thead_close"),
        ],
        "",
    ),
    ("th_close", "th_open"): " · ",
    ("td_close", "td_open"): " · ",
    ("thead_close", "tbody_open"): "; ",
    ("tr_close", "tr_open"): "; ",
}  # fmt: skip
"""what stands in plain text between two tokens; a space where nothing is said"""
_ALIGNED = re.compile(r"text-align:(left|center|right)")


class Prose:
    """Turns the Markdown of a book into safe HTML for its pages."""

    def __init__(self, names: Names, media: Media) -> None:
        self._names = names
        self._media = media
        self._parser = MarkdownIt("commonmark", {"html": False}).enable("table")

    def html(self, text: str, note: str, page: str, *, under: int = 2, title: str = "") -> Markup:
        """The text as HTML for a page, its headings one level below `under`.

        `note` is the path in the book that relative links start from. A first heading that says
        `title` is left out, because the page already does.
        """
        tokens = self._parse(text, title)
        _order_headings(tokens, under)
        place = _Place(self._names, self._media, note, page)
        for token in tokens:
            if token.type == "inline":
                children = list(_kept_together(token.children or []))
                token.children = list(place.safe(children))
        _make_figures(tokens)
        return Markup(self._parser.renderer.render(list(_fit(tokens)), self._parser.options, {}))

    def plain(self, text: str, *, title: str = "") -> str:
        """The words of the text on one line, without its markup.

        The cells of a table are parted by a raised dot, its rows by a semicolon.
        """
        words = []
        before = ""
        for token in self._parse(text, title):
            words.append(_PARTED.get((before, token.type), " "))
            inline = token.children or [token]
            words += [part.content or " " for part in inline if part.nesting == 0]
            before = token.type
        return wording.kept_together(" ".join("".join(words).split()))

    def basis(self, text: str) -> object:
        """What the HTML of a text rests on besides itself: the cases and notes that it may name."""
        named = self._names.numbers & _CASE_NUMBER.findall(text)
        return sorted(named), self._names.page_of_note if ".md" in text.lower() else None

    def _parse(self, text: str, title: str) -> list[Token]:
        tokens = self._parser.parse(text)
        if len(tokens) > 2 and tokens[0].type == "heading_open" and tokens[1].content == title:
            return tokens[3:]
        return tokens


class _Place:
    """Where a text stands: what its relative links mean, and how its page reaches the rest."""

    def __init__(self, names: Names, media: Media, note: str, page: str) -> None:
        self._names = names
        self._media = media
        self._note = note
        self._page = page
        self._root = root_of(page)
        self._players = Markup()

    def safe(self, tokens: Iterable[Token]) -> Iterator[Token]:
        """The tokens of a line of text with every link and picture settled.

        A sound clip plays below the text that its link stands in.
        """
        closing: list[Token | None] = []
        self._players = Markup()
        for token in tokens:
            if token.type == "link_open":
                opening, end = self._link(str(token.attrGet("href") or ""))
                closing.append(end)
                if opening:
                    yield opening
            elif token.type == "link_close":
                if end := closing.pop():
                    yield end
            elif token.type == "image":
                yield self._picture(token)
            elif token.type == "text" and not closing:
                yield from self._cases_named(token)
            else:
                yield token
        if self._players:
            yield _raw(self._players)

    def _link(self, href: str) -> tuple[Token | None, Token | None]:
        if _leads_away(href):
            return _raw(Markup('<a class="away" rel="noreferrer" href="{}">').format(href)), _END
        note = posixpath.normpath(posixpath.join(posixpath.dirname(self._note), unquote(href)))
        if note in self._names.page_of_note:
            return self._anchor(self._names.page_of_note[note]), _END
        medium = self._media.find(href, self._note)
        if medium is None:
            return None, None
        if medium.is_sound:
            self._add_player(medium)
        return self._anchor(medium.address), _END

    def _anchor(self, page: str) -> Token:
        return _raw(Markup('<a href="{}">').format(self._root + page))

    def _add_player(self, medium: Medium) -> None:
        self._players += Markup(' <audio controls preload="none" src="{}"></audio>').format(
            self._root + medium.address
        )

    def _picture(self, token: Token) -> Token:
        shown = "".join(child.content for child in token.children or [])
        caption = str(token.attrGet("title") or shown)
        medium = self._media.find(str(token.attrGet("src") or ""), self._note)
        if medium is None:
            return _raw(Markup('<span class="missing">[picture: {}]</span>').format(shown))
        if medium.is_sound:
            self._add_player(medium)
            return _raw(escape(shown))
        made = _raw(Markup('<img src="{}" alt="{}">').format(self._root + medium.address, shown))
        made.meta["caption"] = caption
        return made

    def _cases_named(self, token: Token) -> Iterator[Token]:
        """The text with the numbers of other cases made links."""
        html, end = Markup(), 0
        for found in _CASE_NUMBER.finditer(token.content):
            page = self._names.case(found[0]).page
            if page is None or page == self._page or not any(map(str.isdigit, found[0])):
                continue
            html += escape(token.content[end : found.start()])
            html += Markup('<a href="{}">{}</a>').format(self._root + page, found[0])
            end = found.end()
        yield _raw(html + escape(token.content[end:]))


def _raw(html: Markup) -> Token:
    """HTML that this module made; the parser makes no such token, because HTML is off."""
    return Token("html_inline", "", 0, content=html)


_END = _raw(Markup("</a>"))


def _kept_together(tokens: list[Token]) -> Iterator[Token]:
    """The tokens of a line of text, no number parted from its unit, not even by a line break."""
    for at, token in enumerate(tokens):
        if token.type == "text":
            token.content = wording.kept_together(token.content)
        elif token.type == "softbreak" and 0 < at < len(tokens) - 1:
            number = tokens[at - 1].content[-1:].isdigit()
            if number and wording.UNIT_NEXT.match(tokens[at + 1].content):
                yield Token("text", "", 0, content=wording.KEPT)
                continue
        yield token


def _leads_away(href: str) -> bool:
    try:
        parts = urlsplit(href)
        whole = parts.port != 0 and _HOST.fullmatch(parts.hostname or "")
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(whole)


def _order_headings(tokens: list[Token], under: int) -> None:
    """Bring headings below a level without gaps, whatever levels the writer used."""
    open_levels: list[int] = []
    for token in tokens:
        if token.type not in ("heading_open", "heading_close"):
            continue
        if token.type == "heading_open":
            level = int(token.tag[1])
            while open_levels and open_levels[-1] >= level:
                open_levels.pop()
            open_levels.append(level)
        token.tag = f"h{min(under + len(open_levels), 6)}"


def _make_figures(tokens: list[Token]) -> None:
    """A paragraph that is one picture becomes a figure with a caption."""
    for before, inline, after in zip(tokens, tokens[1:], tokens[2:], strict=False):
        children = inline.children or []
        if before.type != "paragraph_open" or before.hidden or len(children) != 1:
            continue
        caption = children[0].meta.get("caption")
        if caption is None:
            continue
        before.tag = after.tag = "figure"
        if caption:
            children.append(_raw(Markup("<figcaption>{}</figcaption>").format(caption)))


def _fit(tokens: list[Token]) -> Iterator[Token]:
    """Tables in a frame that scrolls by itself, their columns aligned by class."""
    for token in tokens:
        if token.type == "table_open":
            yield _raw(Markup('<div class="scroll" role="region" tabindex="0" aria-label="Table">'))
        if aligned := _ALIGNED.fullmatch(str(token.attrs.pop("style", ""))):
            token.attrs["class"] = f"to-{aligned[1]}"
        yield token
        if token.type == "table_close":
            yield _raw(Markup("</div>"))
