"""Text that looks as if it named a person: telephone numbers, e-mail and street addresses.

It is read as a careful colleague would look over a note before it goes out: sure of few things and
silent about the rest, because a warning that is wrong ten times is not read the eleventh.

Sources of the shapes. Telephone numbers: ITU-T E.123 (02/2001) for how they are written, national
with the trunk prefix and international with `+`; ITU-T E.164 (11/2010) for at most fifteen digits.
Ten digits in threes and fours, North American: common practice, no source. E-mail: addr-spec of
RFC 5322, 3.4.1, with the lengths of RFC 5321, 4.5.3.1; of the domain's labels the last has letters.
The standards are cited from memory. Streets and what they are called, in six languages: common
practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from msgspec import Struct

Kind = Literal["telephone number", "e-mail address", "street address"]

_LETTER = r"[^\W\d_]"
_ATOM = r"[\w!#$%&'*+/=?^`{|}~-]"
# Every repetition is bounded or starts at the edge of a word, so that time grows with the length.
_EMAIL = re.compile(
    rf"""(?:(?<![\w!#$%&'*+/=?^`{{|}}~.-]){_ATOM}[\w!#$%&'*+/=?^`{{|}}~.-]{{0,63}}|"[^"\n]{{1,62}}")
    @(?:[^\W_](?:[\w-]{{0,61}}[^\W_])?\.){{1,4}}{_LETTER}{{2,24}}(?![\w@])""",
    re.VERBOSE,
)

# A run of digits in groups: E.123 parts them by spaces; hyphens, dots and slashes are met too.
_PART = r"[ \u00a0\u202f./()-]{0,3}"
_DIGITS = re.compile(rf"(?<![\w.,/+±−(-])\+?\(?\d(?:{_PART}\d){{5,24}}(?!\w)")
_INTERNATIONAL = re.compile(r"\+|00[1-9]")
_TRUNK = re.compile(r"\(?\+?0[1-9]\d{0,4}\)?[ \u00a0\u202f./()-]{0,3}\d")
_NORTH_AMERICAN = re.compile(r"\([2-9]\d\d\) ?[2-9]\d\d[ .-]\d{4}|[2-9]\d\d([.-])[2-9]\d\d\1\d{4}")
_PAIRS = re.compile(r"0[1-9](?:([ .])\d\d)(?:\1\d\d){3}")
_DATE = re.compile(r"\d{1,2}[./-]\d{1,2}[./-](?:19|20)?\d\d(?!\d)|\d{4}-\d\d(?!\d)")
_GROUPS = re.compile(r"\d+")
# What stands before a number says what it is of.
_CALLS = re.compile(
    r"\b(?:tel|telephone|phone|ph|mob|mobile|cell|fax|call|rings?|text|sms|handy|telefon|téléphone|tfno)\.?"
    r"(?: ?(?:no|nr|number))?\.?(?: (?:him|her|me|them|us|on|at|is)){0,2}[ :.]{0,3}$",
    re.IGNORECASE,
)
_NAMES_A_THING = re.compile(
    r"\b(?:serial|s/n|p/n|parts?|batch|lot|order|invoice|case|ticket|model|type|ref|code|date|item|stock|"
    r"no|nr|number|drawing)[.:# ]{0,3}$",
    re.IGNORECASE,
)
# A quantity is no number to ring, nor is a list of them.
_UNIT = re.compile(
    r"[ \u00a0\u202f]?(?:[kKMGmµμunp]?(?:V|A|W|Hz|Ω|F|H|ohms?|VA|Wh|Ah|bit|B)\b|[kKM]\b|"
    r"%|°|dB|mm|cm|kg|g\b|(?:s|ms|h|min|hours|minutes|rpm|GBP|EUR|USD)\b|[£€$×])"
)
_BEFORE_A_PRICE = re.compile(r"(?:[£€$]|GBP|EUR|USD)[ ]?$")

# "Drive" is left out: on a bench it is a control, and "2 Lead Drive" is no house.
_NUMBER = r"\d{1,4}[a-zA-Z]?"
_NAME = rf"[A-ZÀ-ÖØ-Þ]{_LETTER}[\w'’.-]{{1,24}}"
_NUMBER_FIRST = re.compile(
    rf"""(?<![\w.,/-]){_NUMBER}(?:
    ,?[ ](?:St\.?[ ])?(?:{_NAME}[ ]){{1,3}}(?:Street|St|Road|Rd|Lane|Ln|Avenue|Ave|Terrace|Crescent|
      Square|Gardens|Grove|Mews|Close|Court|Boulevard|Blvd)
    |(?:[ ](?:bis|ter))?,?[ ](?:rue|avenue|boulevard|allée|chemin|impasse|quai)[ ]
      (?:(?:de[ ]la|de[ ]l['’]|du|des|de|d['’])[ ]?)?[A-ZÀ-ÖØ-Þ]{_LETTER}+
    )(?![\w-])""",
    re.VERBOSE,
)
_AFTER_A_WORD = "Calle Avenida Avda. Paseo Plaza Viale Piazza Corso Via Box".split()
_AFTER_AN_ENDING = "straße strasse str. gasse allee weg platz straat laan gracht plein kade".split()
_NAME_FIRST = re.compile(
    rf"""(?<![\w.,/-])(?:
    (?:Calle|Avenida|Avda\.|Paseo|Plaza|Viale|Piazza|Corso)[ ]
      (?:(?:de|del|della|la|los|di)[ ]){{0,2}}(?:{_NAME},?[ ]){{1,3}}{_NUMBER}
    |Via[ ](?:(?:del|della|di|dei)[ ])?(?:{_NAME}[ ]){{0,2}}{_NAME},[ ]{_NUMBER}
    |(?!Signal|Strom|Um|Rück|Hin|Steck|Mess|Arbeits)[A-ZÄÖÜ][\wäöüß-]{{2,24}}
      (?:{"|".join(map(re.escape, _AFTER_AN_ENDING))})[ ]{_NUMBER}
    |P\.?[ ]?O\.?[ ]?Box[ ]\d{{1,6}}
    )(?![\w-])""",
    re.VERBOSE,
)
# Looked for first: they are rare, and a plain look costs a tenth of the pattern.
_RARE = tuple(f"{word} " for word in (*_AFTER_A_WORD, *_AFTER_AN_ENDING))


class Finding(Struct, frozen=True):
    """A stretch of a text, from `start` up to `end` in characters, and what it looks like."""

    kind: Kind
    start: int
    end: int


class PrivateLooking(Struct, frozen=True):
    """A published text that looks private, the file of the book and the key that it stands under.

    `line` and `column` count from 1; they are 0 until somebody has looked into the file.
    """

    file: str
    field: str
    kind: Kind
    text: str
    line: int = 0
    column: int = 0


def findings(text: str, identifier: bool = False) -> Iterator[Finding]:
    """What in a text looks private, in order of kind and place.

    An `identifier` is a serial number, a batch or the like: its digits are taken for no telephone
    number, since nothing tells the two apart.
    """
    if "@" in text:
        for match in _EMAIL.finditer(text):
            yield Finding("e-mail address", *match.span())
    if not _GROUPS.search(text):  # whatever follows has a number in it
        return
    if not identifier:
        yield from _telephones(text)
    for match in _NUMBER_FIRST.finditer(text):
        yield Finding("street address", *match.span())
    if any(word in text for word in _RARE):
        for match in _NAME_FIRST.finditer(text):
            yield Finding("street address", *match.span())


def _telephones(text: str) -> Iterator[Finding]:
    for match in _DIGITS.finditer(text):
        start, end = match.span()
        before, number = text[max(0, start - 24) : start], match.group()
        if _UNIT.match(text, end) or _BEFORE_A_PRICE.search(before):
            continue
        if _is_telephone(number, before):
            yield Finding("telephone number", start, end)


def _is_telephone(number: str, before: str) -> bool:
    groups = _GROUPS.findall(number)
    digits = sum(map(len, groups))
    if digits > 15 or (_DATE.match(number) and not _PAIRS.fullmatch(number)):
        return False
    if _CALLS.search(before):
        return True
    if _NAMES_A_THING.search(before):
        return False
    if number.startswith("+"):
        return digits >= 8
    if _INTERNATIONAL.match(number):
        return digits >= 10 and len(groups) > 1
    if _NORTH_AMERICAN.fullmatch(number):
        return True
    if not _TRUNK.match(number) or not 9 <= digits <= 12:
        return False
    # Pairs are a number in some countries and a column of small figures everywhere else.
    return max(map(len, groups)) > 2 or _PAIRS.fullmatch(number) is not None
