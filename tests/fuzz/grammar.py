"""Inputs made by a grammar: notes, vocabularies and Markdown that are nearly right."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

KEYS = (
    "case family received complaint unit built modified waiting finished closed_as proved readings "
    "safety offered found_too returned comeback_of private checks symptom seen absent reproduced onset "
    "every root_cause at confirmed_by brought_on_by took_with_it fix parts minutes faults"
).split()
INNER = "check outcome minutes at note for part batch value when state mains do price owner urgency run with result".split()
TERM_KEYS = (
    "label also parent maker kind made has nominal access covers hazards first confirm cover minutes "
    "wait outcomes clears how owner_ok disturbs needs title mains voltage frequency currency "
    "comeback_days publish hide"
).split()
PLAIN = (
    "2024-03-04", "1996", "312 V", "12 min", "0.08 Ω", "55", "yes", "no", "open", "live", "repaired",
    "as-left", "replace", "pass", "powered", "true", "[1, 2]", "parts", "", "~", "high-voltage",
)  # fmt: skip


def scalar(chance: Random, words: Sequence[bytes]) -> str:
    """A plain, quoted or block scalar."""
    kind = chance.random()
    if kind < 0.45:
        return chance.choice(PLAIN)
    text = " ".join(
        chance.choice(words).decode("utf-8", "replace") for _ in range(chance.randint(1, 4))
    )
    if kind < 0.8:
        return text
    if kind < 0.9:
        return f'"{text}{chance.choice(("", chr(92) + "n", chr(92) + "u202e", chr(92) + "e", chr(92) + "0"))}"'
    return f"'{text}'"


def flow(chance: Random, keys: Sequence[str], words: Sequence[bytes], depth: int = 0) -> str:
    """A flow list or mapping, or a scalar."""
    kind = chance.random()
    if kind < 0.4 or depth > 4:
        return scalar(chance, words)
    count = chance.randint(0, 4)
    if kind < 0.65:
        return f"[{', '.join(flow(chance, keys, words, depth + 1) for _ in range(count))}]"
    inner = (f"{chance.choice(keys)}: {flow(chance, keys, words, depth + 1)}" for _ in range(count))
    return "{" + ", ".join(inner) + "}"


def note(chance: Random, words: Sequence[bytes]) -> bytes:
    """Front matter of known keys in any order with any values, and a Markdown body."""
    lines = [
        "case: A1", "family: drover-22", "received: 2024-03-04", "complaint: It hums",
    ]  # fmt: skip
    for key in chance.sample(KEYS, chance.randint(0, 8)):
        if chance.random() < 0.2:
            lines.append(f"{key}:")
            indent = chance.choice(("", "  "))
            lines += [
                f"{indent}- {flow(chance, INNER, words)}" for _ in range(chance.randint(1, 4))
            ]
        else:
            lines.append(f"{key}: {flow(chance, INNER, words)}")
    if chance.random() < 0.5:
        chance.shuffle(lines)
    front = "\n".join(lines)
    return f"---\n{front}\n---\n".encode("utf-8", "replace") + markdown(chance, words)


def terms(chance: Random, words: Sequence[bytes], causes: bool) -> bytes:
    """A vocabulary file, its keys mostly known ones, its parents mostly entries of the file."""
    pool = [f"k{i}" for i in range(chance.choice((1, 3, 8, 30)))]
    if causes:
        pool = [f"{key}/{chance.choice(pool)}" for key in pool]
    lines = []
    for key in pool:
        fields = [f"label: {scalar(chance, words)}"] if chance.random() < 0.9 else []
        if chance.random() < 0.5:
            fields.append(f"parent: {chance.choice(pool)}")
        fields += [
            f"{name}: {flow(chance, (*pool, *INNER), words)}"
            for name in chance.sample(TERM_KEYS, chance.randint(0, 4))
        ]
        lines.append(f"{key}: {{{', '.join(fields)}}}")
    return "\n".join(lines).encode("utf-8", "replace")


_BLOCKS = ("# {}", "## {} ##", "{}\n===", "- {}\n  - {}", "1. {}", "> {}", "```\n{}\n```", "    {}", "{}", "{}",
    "| {} | {} |\n| :- | -: |\n| {} | {} |", "[{}]: {}", "---", "<div>{}</div>")  # fmt: skip
_INLINE = (
    "{}",
    "{}",
    "*{}*",
    "**{}**",
    "`{}`",
    "[{}]({})",
    "![{}]({})",
    "<{}>",
    '[{}]({} "{}")',
    "[{}][{}]",
    "\\{}",
    "&{};",
)
TARGETS = (
    "media/hum.wav", "media/vent.png", "../../media/vent.png", "../2024/2024-0117.md", "javascript:alert(1)",
    "data:text/html,<script>", "//example.org/x", "http://example.org/?a=1&b", "HTTPS://a.b:99/%22onx=",
    "../../../etc/passwd", "media/../../x.png", "media/%2e%2e/%2e%2e/x.png", "media/link.png", "file:///etc/passwd",
    "media/pipe.png", "media/" + "a" * 300 + ".png", "%00.png", "media\\..\\..\\x.png", "java&#x0A;script:x", "#x", "?x",
)  # fmt: skip


def markdown(chance: Random, words: Sequence[bytes]) -> bytes:
    """A few blocks of marks, words, and links that lead anywhere."""

    def filled(shape: str, depth: int = 0) -> str:
        parts = shape.split("{}")
        made = parts[0]
        for part in parts[1:]:
            kind = chance.random()
            if kind < 0.25:
                made += chance.choice(TARGETS)
            elif kind < 0.6 or depth > 3:
                made += chance.choice(words).decode("utf-8", "replace")
            else:
                made += filled(chance.choice(_INLINE), depth + 1)
            made += part
        return made

    blocks = (filled(chance.choice(_BLOCKS)) for _ in range(chance.randint(0, 5)))
    return chance.choice(("\n\n", "\n")).join(blocks).encode("utf-8", "replace")
