"""The lists of English words and units that the rest of this package goes by."""

from __future__ import annotations


def word_set(text: str) -> frozenset[str]:
    """The words of a text as a set."""
    return frozenset(text.split())


STOP_WORDS = word_set(
    """
    a about after all also am an and any are as at be because been before being but by can could
    did do does for from get gets getting got had has have he her here him his how i if in into is
    it it's its just me my of once or our quite really she so some such than that the their them
    then there these they this those to very was we were what when where which while who will with
    would you your
    """
)
"""Words that say nothing about a fault; neither indexed nor searched for, except inside quotes."""

FILLERS = word_set(
    """
    a also although am an and any are as at be because been being by can could did do does except
    for from get gets getting got had has have he her his i i'm i've if in into is it it's its just
    me my now of once only or our quite really she should since so some such than that that's the
    their them then there these they this those though till to unless until very was we were what
    when whenever where whereas which while who will with would yet you your
    """
)
"""Words that the name of a symptom and a sentence may have or lack without meaning anything else.

Not the stop words: `after` makes no difference to a search, but "crackles after a while" is not
"crackles".
"""

NEGATORS = word_set("no not never without nor neither cannot") | {
    verb + ending
    for verb in word_set("ai are ca could did do does had has have is must need should was were wo")
    | {"would"}
    for ending in ("n't", "nt")
}
"""`no`, `not`, … and `doesn't`, `won't`, … with or without their apostrophe."""

NO_NEGATION = word_set(
    """
    all always bother constantly doubt every everytime idea just know matter mention mind only sure
    wonder
    """
)
"""After these, a negator denies no symptom: `not always`, `no idea why`, `not only`."""

SCOPE_ENDS = word_set(
    """
    and because except he i if it just once only she then they till unless until we when whenever
    which while yet you
    """
)
"""Words beyond which a negator does not reach."""

CUTS = word_set("but although though whereas")
"""Words that end a clause."""

CEASING = word_set("cease fade quit stop subside")
"""Denied, these say that it goes on: `does not stop humming`."""

PAST_FORMS = {
    past: present
    for present, pasts in {
        "begin": "began begun", "bend": "bent", "blow": "blew blown", "break": "broke broken",
        "build": "built", "burn": "burnt", "come": "came", "draw": "drew drawn",
        "fall": "fell fallen", "feel": "felt", "find": "found", "freeze": "froze frozen",
        "give": "gave given", "go": "went gone", "grow": "grew grown", "hear": "heard",
        "keep": "kept", "light": "lit", "lose": "lost", "make": "made", "ring": "rang rung",
        "rise": "rose risen", "run": "ran", "send": "sent", "shake": "shook shaken",
        "smell": "smelt", "spill": "spilt", "spin": "spun", "stick": "stuck",
        "strike": "struck", "swing": "swung", "take": "took taken", "tear": "tore torn",
        "wear": "wore worn",
    }.items()
    for past in pasts.split()
}  # fmt: skip
"""Irregular past forms of verbs that turn up in complaints; a stemmer can't know them. Those that
mean something else at a bench (`left`, `wound`, `ground`, `saw`) are not here."""

UNITS: dict[str, str] = {
    **{unit: unit for unit in word_set("v mv kv a ma ua w mw kw hz khz mhz db f uf nf pf h mh uh")},
    **{unit: unit for unit in word_set("c s ms min mm cm g kg va rpm")},
    **dict.fromkeys(word_set("k kω kohm kohms"), "k"),
    **dict.fromkeys(word_set("m mω mohm mohms megohm megohms"), "m"),
    **dict.fromkeys(word_set("r ω ohm ohms"), "ohm"),
    **dict.fromkeys(word_set("volt volts"), "v"),
}
"""Unit as folded -> how it is written in the index, so that `47k` and `47 kΩ` are one word."""

LONE_UNITS = frozenset("VAWFHkKMΩ\u2126")
"""One-letter units that count after a space: `5 A fuse` is a current, `5 a day` is not."""


def word_lists() -> dict[str, list[str]]:
    """All of these lists by name, for a reader of questions that is not this package.

    Past forms and units are two words with a space between them.
    """
    return {
        "stop": sorted(STOP_WORDS),
        "fillers": sorted(FILLERS),
        "negators": sorted(NEGATORS),
        "noNegation": sorted(NO_NEGATION),
        "scopeEnds": sorted(SCOPE_ENDS),
        "cuts": sorted(CUTS),
        "ceasing": sorted(CEASING),
        "past": [f"{past} {present}" for past, present in sorted(PAST_FORMS.items())],
        "units": [f"{unit} {written}" for unit, written in sorted(UNITS.items())],
        "loneUnits": sorted(LONE_UNITS),
    }
