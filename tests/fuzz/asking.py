"""Targets: whatever a person types, or a note says, in plain words."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from random import Random

from fuzz import grammar, material
from fuzz.engine import Target
from fuzz.guard import guarded
from fuzz.mutate import as_text, mutated, noise

from kb.cli import main
from kb.errors import BenchbookError
from kb.text import QuestionError, Recogniser, parse, snippet, suggest, tokens
from kb.text.question import MAX_CHARACTERS, MAX_WORDS

PHRASES = (
    b'hum "when warm" crackle', b"It crackles after a while, no hum, buzz or smoke", b"12AX7 47 k\xce\xa9 high-esr 2024-0117",
    b"not only hum but it won't stop humming on for twenty minutes", "“dried out” 100 Hz".encode(),
)  # fmt: skip


def some_question(chance: Random) -> bytes:
    """A spoilt complaint, or words in any order."""
    if chance.random() < 0.6:
        return mutated(chance, chance.choice(PHRASES), material.words())
    return noise(chance, material.words(), 60)


def read_question(data: bytes, _seed: int) -> None:
    """Any text is a question or a documented refusal; its words stand where they are said to."""
    text = as_text(data)
    with guarded():
        for token in tokens(text):
            assert 0 <= token.start < token.end <= len(text)
            assert token.text
        try:
            asked = parse(text)
        except QuestionError as fault:
            assert fault.reason in ("empty", "too-long", "only-common-words")
            return
        assert asked == parse(text)
        assert asked.words or asked.phrases
        assert len(text) <= MAX_CHARACTERS
        assert sum(map(len, asked.phrases)) <= MAX_WORDS
        better = suggest(text, BOOK_WORDS)
        assert better is None or better != text


BOOK_WORDS = {
    "crackle": 4,
    "hum": 9,
    "smoke": 1,
    "capacitor": 3,
    "resistor": 5,
    "ſmall": 1,
    "warm": 2,
}
NAMES = {
    "hum": ("Hum", "buzzes", "hums or buzzes"),
    "hum-when-warm": ("Hum when warm", "hums after a while"),
    "no-sound": ("No sound", "dead"),
    "smoke": ("Smoke", "smell of burning"),
}
_recogniser = Recogniser(NAMES)


def some_complaint(chance: Random) -> bytes:
    """Sentences with negations, lists and times."""
    parts = b"no|not|hum|hums|buzz|,|or|nor|after|a while|twenty minutes|for|on for|smoke|smell of burning|but|.|(|-|sound|dead|won't stop".split(
        b"|"
    )
    made = b" ".join(chance.choice(parts) for _ in range(chance.randint(1, 40)))
    return made if chance.random() < 0.5 else mutated(chance, made, parts)


def recognise_symptoms(data: bytes, _seed: int) -> None:
    """Only known symptoms are named, none both there and denied."""
    text = as_text(data)
    with guarded():
        found = _recogniser(text)
    assert found == _recogniser(text)
    assert set(found.keys) | set(found.denied) <= set(NAMES)
    assert not set(found.keys) & set(found.denied)


def some_body(chance: Random) -> bytes:
    """Markdown."""
    made = grammar.markdown(chance, material.words())
    return made if chance.random() < 0.5 else mutated(chance, made, material.words())


def _readable(text: str) -> str:
    try:
        from kb.text.plain import plain_text
    except ImportError:  # it stood elsewhere once
        from kb.text.snippets import plain_text
    return plain_text(text)


def show_snippet(data: bytes, _seed: int) -> None:
    """A snippet is one line with paired marks, and not much wider than asked."""
    text = data.decode("utf-8", "replace")
    with guarded():
        asked = parse('hum "of the" warm 100 Hz V2')
        plain = _readable(text)
        shown = snippet([plain], asked)
    assert "\n" not in shown
    assert shown.count("**") % 2 == 0
    assert "*" not in shown.replace("**", "")
    assert shown == snippet([plain], asked)


def some_evidence(chance: Random) -> bytes:
    """A family, symptoms, checks and words, parted by zero bytes; mostly known ones."""

    def term() -> bytes:
        key = chance.choice(material.keys())
        return key if chance.random() < 0.85 else mutated(chance, key, material.keys())

    text = some_complaint(chance) if chance.random() < 0.5 else some_question(chance)
    fields = [text, *(term() for _ in range(chance.randint(0, 6)))]
    return b"\0".join(field.replace(b"\0", b" ") for field in fields)


def ask_book(data: bytes, seed: int) -> None:
    """Any evidence is answered with probabilities that sum to one, or refused with a reason."""
    book = material.asked_book()
    chance = Random(seed)
    text, *terms = (as_text(part) for part in data.split(b"\0"))
    given: dict[str, list[str]] = {"symptoms": [], "absent": [], "check": []}
    for one in terms:
        given[chance.choice(tuple(given))].append(one)
    pairs = list(zip(given["check"], given["check"][1:], strict=False))
    pairs += [("tap-valves", "crackle")] * chance.choice((0, 0, 0, 1, 300))
    with guarded([material.folder() / "asked"]):
        try:
            answer = book.diagnose(
                text, chance.choice((None, "drover-22", *terms[:1])), given["symptoms"], given["absent"],
                pairs, chance.choice(("outside", "open", "live")),
            )  # fmt: skip
            total = answer.unseen + sum(cause.probability for cause in answer.causes)
            assert abs(total - 1) < 1e-6
        except BenchbookError as fault:
            assert fault.message
        try:
            found = book.search(text, *chance.choices((None, None, *terms), k=3), limit=5)
            assert found.total >= len(found.hits)
        except BenchbookError as fault:
            assert fault.message


def some_command(chance: Random) -> bytes:
    """The words of a command line, parted by zero bytes."""

    def word() -> bytes:
        kind = chance.random()
        if kind < 0.4:
            return chance.choice(material.keys())
        if kind < 0.6:
            return chance.choice(material.keys()) + b"=" + chance.choice(material.keys())
        return mutated(chance, chance.choice((*PHRASES, b"2024-03", b"C3", b"10")), material.keys())

    command = chance.choice(
        (b"diagnose", b"diagnose", b"search", b"show", b"weak-points", b"check", b"index")
    )
    options = b"--family --symptom --absent --check --access --cause --since --limit --json --help".split()
    words = [command]
    for _ in range(chance.randint(0, 5)):
        if chance.random() < 0.6:
            words.append(chance.choice(options))
        words.append(word())
    return b"\0".join(part.replace(b"\0", b" ") for part in words)


def give_command(data: bytes, _seed: int) -> None:
    """Every command line ends with 0, 1 or 2 and no traceback."""
    book = material.asked_book()
    words = [as_text(part) for part in data.split(b"\0")]
    place = [
        "benchbook",
        "--book",
        str(book.folder),
        "--cache",
        str(material.folder() / "asked" / "cache"),
    ]
    with guarded([material.folder() / "asked"]):
        status, told = run_main([*place, *words])
    assert status in (0, 1, 2)
    assert "Traceback" not in told
    assert "a fault in benchbook itself" not in told, told


def run_main(words: Sequence[str]) -> tuple[int, str]:
    """Run the command line in this process; gives its status and all that it printed."""
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    before = sys.argv, sys.stdout, sys.stderr
    sys.argv, sys.stdout, sys.stderr = list(words), out, out
    try:
        main()
        status: object = 0
    except SystemExit as end:
        status = end.code or 0
    finally:
        sys.argv, sys.stdout, sys.stderr = before
    told = out.buffer.getvalue().decode("utf-8", "replace")  # type: ignore[attr-defined]
    return (status if isinstance(status, int) else 1), told


TARGETS = (
    Target("question", some_question, read_question, 70),
    Target("symptoms in a text", some_complaint, recognise_symptoms, 70),
    Target("snippet", some_body, show_snippet, 24),
    Target("evidence", some_evidence, ask_book, 8),
    Target("command line", some_command, give_command, 2),
)
