"""The engines that search_quality.py sets beside this program's search, each as it comes.

Every engine gets the same text of each document as one string and has English stemming switched
on; nothing else is set. A question is its words, any of which may match; so that no engine's own
operators come into play, everything but letters and digits is a gap. FTS5 and tantivy have no stop
words of their own; bm25s brings 33 and Whoosh 34, used here. Each is imported where it
is used, so that what needs only one of them need not have them all.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Mapping

Rank = Callable[[str], list[str]]
"""From a question to the names of the documents found, best first."""


def words(question: str) -> list[str]:
    """The words of a question in small letters (`OR` in capitals is an operator to some)."""
    return re.findall(r"[^\W_]+", question.lower())


def fts5(texts: Mapping[str, str]) -> Rank:
    """SQLite's FTS5 with its Porter stemmer. https://www.sqlite.org/fts5.html"""
    base = sqlite3.connect(":memory:")
    base.execute(
        "CREATE VIRTUAL TABLE pages USING fts5(name UNINDEXED, text, tokenize='porter unicode61')"
    )
    base.executemany("INSERT INTO pages VALUES (?, ?)", texts.items())

    def rank(question: str) -> list[str]:
        either = " OR ".join(f'"{word}"' for word in words(question))
        rows = base.execute("SELECT name FROM pages WHERE pages MATCH ? ORDER BY rank", (either,))
        return [name for (name,) in rows]

    return rank


def plain_whoosh(texts: Mapping[str, str]) -> Rank:
    """Whoosh with one stemmed TEXT field, any word of the question matching."""
    from whoosh.analysis import StemmingAnalyzer
    from whoosh.fields import ID, TEXT, Schema
    from whoosh.filedb.filestore import RamStorage
    from whoosh.qparser import OrGroup, QueryParser

    schema = Schema(name=ID(stored=True), text=TEXT(analyzer=StemmingAnalyzer()))
    index = RamStorage().create_index(schema)
    with index.writer() as writer:
        for name, text in texts.items():
            writer.add_document(name=name, text=text)
    searcher = index.searcher()
    parser = QueryParser("text", schema, group=OrGroup)

    def rank(question: str) -> list[str]:
        found = searcher.search(parser.parse(" ".join(words(question))), limit=None)
        return [hit["name"] for hit in found]

    return rank


def bm25s_lucene(texts: Mapping[str, str]) -> Rank:
    """bm25s with its English stop words and Snowball's stemmer (arXiv:2407.03618)."""
    import bm25s
    import Stemmer

    stemmer = Stemmer.Stemmer("english")
    names = list(texts)
    index = bm25s.BM25()
    corpus = bm25s.tokenize(
        list(texts.values()), stopwords="en", stemmer=stemmer, show_progress=False
    )
    index.index(corpus, show_progress=False)

    def rank(question: str) -> list[str]:
        asked = bm25s.tokenize(
            " ".join(words(question)),
            stopwords="en",
            stemmer=stemmer,
            return_ids=False,
            show_progress=False,
        )
        found, scores = index.retrieve(asked, corpus=names, k=len(names), show_progress=False)
        return [str(n) for n, s in zip(found[0], scores[0], strict=True) if s > 0]

    return rank


def tantivy_stemmed(texts: Mapping[str, str]) -> Rank:
    """tantivy with its tokenizer `en_stem`. https://docs.rs/tantivy"""
    import tantivy

    builder = tantivy.SchemaBuilder()
    builder.add_text_field("name", stored=True, tokenizer_name="raw")
    builder.add_text_field("text", tokenizer_name="en_stem")
    index = tantivy.Index(builder.build())
    writer = index.writer(num_threads=1)
    for name, text in texts.items():
        writer.add_document(tantivy.Document(name=name, text=text))
    writer.commit()
    writer.wait_merging_threads()
    index.reload()
    searcher = index.searcher()

    def rank(question: str) -> list[str]:
        asked = index.parse_query(" ".join(words(question)), ["text"])
        hits = searcher.search(asked, limit=len(texts)).hits
        return [searcher.doc(address)["name"][0] for _, address in hits]

    return rank


PEERS: Mapping[str, Callable[[Mapping[str, str]], Rank]] = {
    "SQLite FTS5": fts5,
    "Whoosh, plain": plain_whoosh,
    "bm25s": bm25s_lucene,
    "tantivy": tantivy_stemmed,
}
