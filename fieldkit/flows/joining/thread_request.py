"""A request about a screwed joint, read strictly: size, threads, materials, turns, sealant."""

from __future__ import annotations

import re
from dataclasses import replace

from fieldkit.engine.joining.thread import MadeUp, Screwed, thread
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import Line
from fieldkit.typed import answers
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request

_FORM_WORDS: tuple[tuple[str, str], ...] = (
    (r"fire", "fire hose"),
    (r"npsh|swivel", "swivel"),
    (r"hose|nhr?|ght|[mf]ht", "hose"),
    (r"bspt|bsp tr|bsp tap\w*|r[cp]?", "r"),
    (r"npt|[mf]n?ipt|[mf]pt|[mf]ips|taper\w*|pipe", "npt"),
    (r"bspp?|g", "g"),
)

_MATERIAL_WORDS: tuple[tuple[str, str], ...] = (
    (r"band|reinforc|collar", "banded plastic"),
    (r"valve", "plastic valve"),
    (r"brass|steel|iron|metal|copper|bronze|galv|alumin|stainless", "metal"),
    (r"plastic|pvc|nylon|poly|\bpe\b|\bpp\b|\babs\b|acetal|resin|vinyl", "plastic"),
)

_SEALANT_WORDS: tuple[tuple[str, str], ...] = (
    (r"oil|grease|dope|petrol|unmarked|unlabel", "oil paste"),
    (r"^(?=.*tape).*paste|both", "tape and paste"),
    (r"tape|ptfe", "tape"),
    (r"paste|compound|non.?hard", "paste"),
    (r"cement|glue|primer|solvent", "cement"),
    (r"washer|gasket|o.?ring", "washer"),
    (r"none|nothing|^no$|dry|bare", "none"),
)

#: The letters of the ISO standards before a size: G parallel; R, Rc and Rp seal on the thread.
_LETTER = re.compile(r"(g|r[cp]?)\s*(?=\d|[½¼¾⅛⅜])")

_SIZE = re.compile(
    r"(?P<size>[^a-z\"]+?)(?P<unit> ?(?:in\.?|inch|\"))?(?: ?- ?(?P<tpi>\d{1,2}(?:\.5)?))?"
    r"(?: ?\b(?P<words>[a-z][a-z /-]*))?",
    re.ASCII,
)


def ask_thread(request: Request) -> MadeUp:
    """Answer ``thread``: turns, wraps, stress and verdict of a screwed joint."""
    size, form = _size_and_form(request)
    assumed: list[str] = []
    joint = Screwed(
        size=size,
        male=_material(request, "male", assumed),
        female=_material(request, "female", assumed),
        male_thread=_form(request, "male_thread", "male", form),
        female_thread=_form(request, "female_thread", "female", form),
        turns=request.quantity("turns_past_hand_tight", "turns", at_least=0.0, at_most=10.0),
        sealant=_sealant(request),
    )
    return _tell_assumed(thread(joint), assumed)


def _tell_assumed(answer: MadeUp, assumed: list[str]) -> MadeUp:
    if not assumed:
        return answer
    lines = tuple(
        Line(
            side,
            "assumed: plastic, the side that splits",
            {},
            "plastic",
            "",
            "fieldkit-rule",
            "common practice, no source",
        )
        for side in assumed
    )
    return replace(answer, working=(*lines, *answer.working))


def _first(words: tuple[tuple[str, str], ...], text: str) -> str | None:
    return next((name for pattern, name in words if re.search(pattern, text)), None)


def _size_and_form(request: Request) -> tuple[str, str | None]:
    """The trade size, and the form of thread where the size's own words tell it."""
    given = request.raw("size")
    if given in (None, ""):
        raise request.missing("size", "1/2 in")
    if not isinstance(given, str):
        return answers.read_nominal(given, field="size"), None
    text = " ".join(given[:80].split()).casefold()
    letter = _LETTER.match(text)
    if letter is not None:
        size = answers.read_nominal(text[letter.end() :], field="size")
        return size, "g" if letter[1] == "g" else "r"
    if re.search(r"\bbsp\b(?! ?(?:p|tr|tap))", text) and not re.search(r"parallel|straight", text):
        raise Problem(
            "size",
            kept(given),
            say("BSP comes parallel (G, seals on a washer) and taper (R, seals on the thread)."),
            say("Say which, such as G 3/4 or R 3/4."),
        )
    found = _SIZE.fullmatch(text)
    words = (found["words"] or "").strip() if found else ""
    form = _form_of(words) if words not in {"", "in", "inch", "inches", "mm"} else None
    if found is None or form is None:
        return answers.read_nominal(given, field="size"), None
    if form == "hose" and found["tpi"] == "8":
        form = "fire hose"
    return answers.read_nominal(found["size"], field="size"), form


def _form_of(words: str) -> str | None:
    return next((f for pattern, f in _FORM_WORDS if re.search(rf"\b(?:{pattern})\b", words)), None)


def _form(request: Request, key: str, side: str, from_size: str | None) -> str:
    """The thread of one side: told outright, or by its material's words, or by the size's."""
    given = request.raw(key)
    if given not in (None, ""):
        form = _form_of(given[:80].casefold()) if isinstance(given, str) else None
        if form is None:
            raise Problem(
                key,
                kept(given),
                say("“{given}” is not a thread we know.", given=shown(given)),
                say("Choose one of: npt, hose, swivel, fire hose, g, r."),
            )
        return form
    words = request.raw(side)
    told = _form_of(words[:80].casefold()) if isinstance(words, str) else None
    return told or from_size or "npt"


def _material(request: Request, key: str, assumed: list[str]) -> str:
    given = request.raw(key)
    if given in (None, ""):
        assumed.append(key)
        return "plastic"
    words = given[:80].casefold() if isinstance(given, str) else None
    if words is None:
        raise _not_a_material(key, given)
    material = _first(_MATERIAL_WORDS, words)
    if material is None and _form_of(words) is not None:
        assumed.append(key)
        return "plastic"
    if material is None:
        raise _not_a_material(key, given)
    metal_valve = material == "plastic valve" and _first(_MATERIAL_WORDS[2:3], words) == "metal"
    if metal_valve:
        return "metal"
    if key == "male" and material in {"plastic valve", "banded plastic"}:
        return "plastic"
    return material


def _not_a_material(key: str, given: object) -> Problem:
    return Problem(
        key,
        kept(given),
        say("“{given}” is not a material we know.", given=shown(given)),
        say("Say plastic, metal, plastic valve, or banded plastic."),
    )


def _sealant(request: Request) -> str | None:
    given = request.raw("sealant")
    if given in (None, ""):
        return None
    if given is False:
        return "none"
    found = (
        _first(_SEALANT_WORDS, given[:80].casefold().strip()) if isinstance(given, str) else None
    )
    if found is None:
        raise Problem(
            "sealant",
            kept(given),
            say("“{given}” is not a sealant we know.", given=shown(given)),
            say("Say tape, paste, tape and paste, oil paste, washer, cement or none."),
        )
    return found
