"""The text index: what it finds, in what order, and that updating is as good as making anew."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.text import Document, QuestionError, Scored, TextIndex, parse, weigh

CRACKLE = Document(
    case="2024-0117",
    title="Crackle from the second stage",
    complaint="Crackles on and off once it has been on for a while",
    symptoms=("Crackles when warm",),
    causes=("Carbon resistor noisy", "carbon-resistor/noisy"),
    family=("Drover 22", "Drover", "valve guitar amplifier"),
    also=("spitting", "frying sound"),
    body="Freeze spray on the 100 kΩ anode resistor of V2 made it quiet.\n\nMetal film fitted.",
)
HUM = Document(
    case="2024-0098",
    title="Hum",
    complaint="Hums with everything at zero",
    symptoms=("Hum",),
    causes=("Electrolytic capacitor, high ESR", "electrolytic-capacitor/high-esr"),
    body="Ripple of 100 Hz on the first filter. A film capacitor would have been too big.",
)
FUSE = Document(
    case="2023-0002", title="Blows its fuse", body="EL84 with a short. New film of metal on it."
)
ALL = (CRACKLE, HUM, FUSE)


@pytest.fixture
def index(tmp_path: Path) -> Iterator[TextIndex]:
    made = TextIndex.open(tmp_path / "index")
    made.rebuild(ALL, "first")
    yield made
    made.close()


def cases(index: TextIndex, text: str, allowed: set[str] | None = None) -> list[str]:
    return [hit.case for hit in index.search(parse(text), allowed)]


@pytest.mark.parametrize(
    "text",
    [
        "crackling", "2024-0117", "0117", "second stages", "carbon", "resistors", "drover",
        "guitar", "spitting", "V2", "v2", "100k", "100 kΩ", "noisy", "carbon-resistor",
        '"anode resistor"', '"on and off"', '"100kΩ anode"', '"metal film" quiet',
    ],
)  # fmt: skip
def test_a_case_is_found_by_any_of_its_texts(index: TextIndex, text: str) -> None:
    assert "2024-0117" in cases(index, text)


@pytest.mark.parametrize("text", ["high-esr", "esr", "high ESR", '"high ESR"', '"high-esr"'])
def test_joined_words_and_separate_ones_find_each_other(index: TextIndex, text: str) -> None:
    assert cases(index, text) == ["2024-0098"]


def test_any_of_the_words_will_do_and_more_of_them_rank_higher(index: TextIndex) -> None:
    assert cases(index, "hum ripple fuse") == ["2024-0098", "2023-0002"]


def test_every_quoted_phrase_is_required(index: TextIndex) -> None:
    assert cases(index, 'hum fuse "metal film"') == ["2024-0117"]
    assert cases(index, '"metal film" "100 Hz"') == []


def test_a_phrase_must_stand_in_its_order(index: TextIndex) -> None:
    assert set(cases(index, "film metal")) == {"2024-0117", "2023-0002", "2024-0098"}
    assert cases(index, '"film metal"') == []


def test_a_phrase_does_not_run_from_one_paragraph_into_the_next(index: TextIndex) -> None:
    assert cases(index, '"quiet metal"') == []


def test_a_phrase_of_stop_words_is_found(index: TextIndex) -> None:
    assert cases(index, '"it has been"') == ["2024-0117"]


def test_a_word_of_the_title_weighs_more_than_one_of_the_body(index: TextIndex) -> None:
    index.rebuild(
        [Document("a", title="buzz", body="one two"), Document("b", title="one", body="buzz two")],
        "weights",
    )
    first, second = index.search(parse("buzz"))
    assert (first.case, second.case) == ("a", "b")
    assert first.score > second.score


def test_only_allowed_cases_are_found_with_unchanged_scores(index: TextIndex) -> None:
    every = index.search(parse("film capacitor"))
    assert index.search(parse("film capacitor"), {"2024-0098", "none"}) == [
        hit for hit in every if hit.case == "2024-0098"
    ]
    assert index.search(parse("film"), set()) == []


def test_equal_scores_stand_in_the_order_of_case_numbers(index: TextIndex) -> None:
    index.rebuild([Document(case, title="hum") for case in ("c", "a", "b")], "ties")
    assert cases(index, "hum") == ["a", "b", "c"]


def test_words_are_whole_and_counted_per_document(index: TextIndex) -> None:
    words = index.words()
    assert words["film"] == 3
    assert words["crackles"] == 1
    assert "crackl" not in words
    assert "the" not in words


def test_an_index_that_was_never_written_is_empty_and_has_no_stamp(tmp_path: Path) -> None:
    index = TextIndex.open(tmp_path / "new")
    assert (index.stamp, index.document_count, dict(index.words())) == (None, 0, {})
    assert index.search(parse('hum "metal film"')) == []


def test_the_stamp_is_kept_with_what_it_stands_for(index: TextIndex, tmp_path: Path) -> None:
    assert index.stamp == "first"
    index.update([], ["2024-0098"], "second")
    assert (index.stamp, index.document_count) == ("second", 2)
    again = TextIndex.open(tmp_path / "index")
    assert (again.stamp, again.document_count) == ("second", 2)
    again.close()


def test_a_changed_case_is_found_by_its_new_words_only(index: TextIndex) -> None:
    index.update([Document("2024-0098", title="Squeal")], [], "second")
    assert cases(index, "squeal") == ["2024-0098"]
    assert cases(index, "ripple") == []
    assert "ripple" not in index.words()


def test_progress_counts_the_documents_up(index: TextIndex) -> None:
    seen: list[int] = []
    index.rebuild(ALL, "second", seen.append)
    assert seen == [1, 2, 3]


def test_of_two_documents_with_one_number_the_later_stays(index: TextIndex) -> None:
    index.rebuild([Document("a", title="hum"), Document("a", title="buzz")], "twice")
    assert index.document_count == 1
    assert cases(index, "buzz") == ["a"]
    assert cases(index, "hum") == []


def test_an_index_opened_elsewhere_sees_what_was_committed_before_it_writes(
    index: TextIndex, tmp_path: Path
) -> None:
    other = TextIndex.open(tmp_path / "index")
    index.update([Document("x", title="squeal")], [], "by one")
    other.update([Document("y", title="squeal")], ["x"], "by the other")
    assert cases(other, "squeal") == ["y"]
    assert other.document_count == 4
    other.close()


def test_a_word_of_any_length_and_script_can_be_indexed(index: TextIndex) -> None:
    odd = "x" * 100_000 + " Ωhm ручка 電源 \x00 \u0301 " + "7" * 300
    index.rebuild([Document("odd", body=odd)], "odd")
    assert cases(index, "ручка") == cases(index, "電源") == cases(index, '"ручка 電源"') == ["odd"]


vocabulary = st.sampled_from(
    "hum humming buzz valve EL84 high-esr 100 Hz 47k the of crackle crackles metal film".split()
)
text = st.lists(vocabulary, max_size=8).map(" ".join)
documents = st.builds(
    Document,
    case=st.sampled_from([f"c{number}" for number in range(8)]),
    title=text,
    complaint=text,
    symptoms=st.lists(text, max_size=2).map(tuple),
    also=st.lists(text, max_size=2).map(tuple),
    body=text,
)
by_case = st.lists(documents, max_size=8).map(lambda many: {doc.case: doc for doc in many})
QUESTIONS = [parse(q) for q in ("hum", "buzz EL84 47k", '"metal film"', "the high-esr valves",
                                '"the" crackle', '"hum" "valve"', "100 Hz", "film")]  # fmt: skip


def answers(index: TextIndex) -> list[tuple[list[Scored], tuple[int, list[Scored]]]]:
    return [(index.search(q), index.best(q, 5, feedback=True)) for q in QUESTIONS]


@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(
    by_case, st.lists(st.tuples(by_case, st.sets(st.sampled_from(["c0", "c1", "c2"]))), max_size=8)
)
def test_an_updated_index_answers_exactly_as_one_made_anew(
    start: dict[str, Document], updates: list[tuple[dict[str, Document], set[str]]]
) -> None:
    with TemporaryDirectory() as folder:
        updated = TextIndex.open(Path(folder) / "updated")
        updated.rebuild(start.values(), "0")
        now = dict(start)
        for number, (changed, removed) in enumerate(updates, start=1):
            updated.update(changed.values(), removed, str(number))
            now = {case: doc for case, doc in now.items() if case not in removed} | changed
        anew = TextIndex.open(Path(folder) / "anew")
        anew.rebuild(reversed(now.values()), "anew")
        assert answers(updated) == answers(anew)
        assert updated.words() == anew.words()
        assert updated.document_count == anew.document_count == len(now)
        assert updated.stamp == str(len(updates))
        updated.close()
        anew.close()


@settings(max_examples=25)
@given(st.text(alphabet="hum the EL84-100 Hz.\n", min_size=1, max_size=60), st.data())
def test_a_phrase_copied_from_a_paragraph_finds_it(paragraph: str, data: st.DataObject) -> None:
    words = paragraph.replace("\n", " ").split()
    if not words:
        return
    first = data.draw(st.integers(0, len(words) - 1))
    last = data.draw(st.integers(first, len(words) - 1))
    phrase = " ".join(words[first : last + 1])
    with TemporaryDirectory() as folder:
        index = TextIndex.open(Path(folder) / "index")
        index.rebuild([Document("a", body=" ".join(words)), FUSE], "0")
        try:
            assert "a" in cases(index, f'"{phrase}"')
        except QuestionError:
            assert not any(c.isalnum() for c in phrase)
        index.close()


def test_the_tables_hold_every_posting_and_length_of_what_is_there_now(index: TextIndex) -> None:
    index.rebuild(ALL, "1")
    index.update([Document(case="2020-0001", title="Hum")], [FUSE.case], "2")
    tables = index.tables()
    left = [document for document in ALL if document.case != FUSE.case]
    weighed = {w.case: w for w in map(weigh, [*left, Document(case="2020-0001", title="Hum")])}
    assert list(tables.documents) == sorted(weighed)
    assert tables.lengths.tolist() == [sum(weighed[c].halves.values()) for c in tables.documents]
    postings = zip(tables.of.tolist(), tables.places.tolist(), tables.weights.tolist(), strict=True)
    found = {(tables.documents[place], tables.terms[of]): w for of, place, w in postings}
    assert found == {(c, term): w for c, one in weighed.items() for term, w in one.halves.items()}


def test_what_was_given_with_a_document_comes_back_with_its_case(index: TextIndex) -> None:
    told = Document(case="2020-0001", title="Told", about=b"\x00 anything")
    index.update([told], [], "second")
    assert index.about("2020-0001") == b"\x00 anything"
    assert index.about(CRACKLE.case) == index.about("unknown") == b""


def test_a_term_that_goes_with_its_last_document_is_gone_after_segments_are_joined(
    index: TextIndex,
) -> None:
    assert "fuse" in index.words()
    for number in range(12):  # enough for segments to be joined
        index.update([Document(case=f"n{number}", title="Hum")], [FUSE.case, CRACKLE.case], "more")
    assert "fuse" not in index.words()
    assert not index.search(parse("fuse"))
    tables = index.tables()
    assert "fuse" not in {tables.terms[of] for of in tables.of.tolist()}
