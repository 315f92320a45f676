"""Names of people: compared by what they look like, so that nobody passes for somebody else.

What looks like what is read from Unicode's table of confusables (UTS #39), which the package
``confusable-homoglyphs`` carries. Only a server knows people, so a phone goes without.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

#: Longest name of a person. [characters]
LONGEST = 80

#: Categories of characters that nobody sees or that no font has.
_UNSEEN = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})

#: Unseen too, though not by their category: fillers, joiners of marks, selectors of a variant
#: (``Default_Ignorable_Code_Point``), and the empty pattern of Braille.
_UNSEEN_MARKS = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0]"
)

#: Alphabets that are written together in one language (UTS #39, Highly Restrictive).
_TOGETHER = (
    {"HAN", "HIRAGANA", "KATAKANA"},
    {"HAN", "HANGUL"},
    {"HAN", "BOPOMOFO"},
)

#: The rows of the table of confusables among plain letters, both cases as one.
_PLAIN = str.maketrans({"i": "l", "1": "l", "|": "l", "0": "o", "`": "'", '"': "''"})


def read_name(text: str) -> str:
    """A name as it is kept: one form of each letter, one blank between words.

    Raises
    ------
    Problem
        It is empty, has something in it that nobody sees, or mixes alphabets.

    Examples
    --------
    >>> read_name("  Ann   Lee ")
    'Ann Lee'
    """
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not name or len(name) > LONGEST:
        raise Problem(
            "name",
            name[:LONGEST],
            say("A name here has 1 to {most} letters.", most=LONGEST),
            say("Give your name."),
        )
    if any(unicodedata.category(c) in _UNSEEN for c in name) or _UNSEEN_MARKS.search(name):
        raise Problem(
            "name",
            name,
            say("In this name is a letter that nobody can see."),
            say("Type the name again, do not paste it."),
        )
    alphabets = _alphabets(name)
    if len(alphabets) > 1 and not any(alphabets <= together for together in _TOGETHER):
        raise Problem(
            "name",
            name,
            say("This name mixes letters of two alphabets that look alike."),
            say("Type all of it in one alphabet."),
        )
    return name


def same_name(name: str) -> str:
    """What a name is looked up by: capitals, blanks and look-alikes do not matter.

    Examples
    --------
    >>> same_name("Ann  Lee") == same_name("\u0410nn\u200b LEE")
    True
    """
    return _skeleton(unicodedata.normalize("NFKC", name).casefold())


def look_alike(one: str, other: str) -> bool:
    """Whether two names look the same, as they stand, in small letters or in capitals.

    Examples
    --------
    >>> look_alike("PauI", "Paul"), look_alike("Ann", "Anna")
    (True, False)
    """
    return not _looks(one).isdisjoint(_looks(other))


@lru_cache(4096)
def _looks(name: str) -> frozenset[str]:
    # As it stands too: what NFKC makes of a sign may look like less than the sign itself.
    forms = (name, unicodedata.normalize("NFKC", name))
    return frozenset(
        _skeleton(one) for plain in forms for one in (plain, plain.upper(), plain.casefold())
    )


def _skeleton(text: str) -> str:
    """Each character as the plain letters that look like it (UTS #39, section 4)."""
    split = _UNSEEN_MARKS.sub("", unicodedata.normalize("NFD", text))
    seen = (c for c in split if c.isspace() or unicodedata.category(c) not in _UNSEEN)
    plain = "".join(_plain_letter(c) for c in seen).casefold().translate(_PLAIN)
    return " ".join(plain.replace("rn", "m").split())


@lru_cache(4096)
def _plain_letter(character: str) -> str:
    if character.isascii():
        return character
    from confusable_homoglyphs.confusables import confusables_data  # noqa: PLC0415

    alike = (str(one["c"]) for one in confusables_data.get(character, ()))
    return next((one for one in alike if one.isascii()), character)


def _alphabets(name: str) -> set[str]:
    from confusable_homoglyphs.categories import unique_aliases  # noqa: PLC0415

    return set(unique_aliases(name)) - {"COMMON", "INHERITED"}
