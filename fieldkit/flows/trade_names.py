"""What people call materials and kinds of joint, beside the ids of our tables."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.tables.fittings import joints
from fieldkit.tables.pipes import ips_pvc
from fieldkit.typed.answers import read_nominal, read_quantity
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request


def key_of(text: str) -> str:
    """A word as a program compares it: small letters, one ``_`` between words.

    Examples
    --------
    >>> key_of("Hazen–Williams")
    'hazen_williams'
    """
    return re.sub(r"[^a-z0-9]+", "_", text.casefold()).strip("_")


def by_name(names: dict[str, str]) -> dict[str, str]:
    """Each name, and the id itself, to the id that it stands for.

    Examples
    --------
    >>> by_name({"darcy": "darcy_weisbach dw"})
    {'darcy': 'darcy', 'darcy_weisbach': 'darcy', 'dw': 'darcy'}
    """
    return {name: one for one, said in names.items() for name in (one, *said.split())}


def known_as(given: object, *, known: Mapping[str, str], offered: Iterable[str], field: str) -> str:
    """What a word stands for by ``by_name``.

    Raises
    ------
    Problem
        It is none of them; the sentence lists what is ``offered``.
    """
    found = known.get(key_of(given)) if isinstance(given, str) else None
    if found is None:
        raise Problem(
            field,
            kept(given),
            say("“{given}” is not one of the choices here.", given=shown(given)),
            say("Choose one of: {options}.", options=", ".join(offered)),
        )
    return found


def read_word(
    request: Request, key: str, known: Mapping[str, str], offered: Iterable[str]
) -> str | None:
    """What the word under ``key`` stands for; None where none was sent."""
    return request.take(key, known_as, None, known=known, offered=offered)


def read_material(request: Request) -> str | None:
    """A material of materials.csv, by any of its common names."""
    return read_word(request, "material", MATERIAL_NAMES, MATERIALS)


def refuse_trade_size(given: object, field: str) -> None:
    """Ask again where a trade size was typed for an outside diameter: ``1/2`` is 0.840 across.

    Anything with a point or in millimetres is taken as measured.

    Raises
    ------
    Problem
        It is a trade size of rigid pipe; the sentence offers the outside and the plain reading.

    Examples
    --------
    >>> refuse_trade_size("1/2 in", "od")
    Traceback (most recent call last):
        ...
    fieldkit.engine.problems.Problem: “1/2 in” is a trade size: that pipe is 0.840 in across. \
Type 0.840 in if you mean that size, or 0.500 in if it really measures that.
    """
    if not isinstance(given, str) or "." in given or "," in given:
        return
    try:
        size = read_nominal(given, field=field)
    except Problem:
        return
    row = ips_pvc().get((size, "Sch 40"))
    if row is None:
        return
    raise Problem(
        field,
        kept(given),
        say(
            "“{given}” is a trade size: that pipe is {od} across.",
            given=shown(given),
            od=Figure(row.od_in, "in", 3),
        ),
        say(
            "Type {od} if you mean that size, or {plain} if it really measures that.",
            od=Figure(row.od_in, "in", 3),
            plain=Figure(read_quantity(given, "in", field=field), "in", 3),
        ),
    )


#: Names of materials, by their ids in materials.csv.
MATERIALS = {
    "pvc": "upvc pvc_u rigid_pvc rigid",
    "cpvc": "",
    "pe": "poly polyethylene hdpe mdpe pe80 pe100 pe3408 pe3608 poly_pipe pe_pipe",
    "pe4710": "",
    "drip": "ldpe lldpe tubing tube drip_tubing drip_tube dripline poly_tubing",
    "pex": "",
    "copper": "",
}
MATERIAL_NAMES = by_name(MATERIALS)

#: Words in a material, class or family that say what a pipe is made of.
_MATERIAL_WORDS = (
    (re.compile(r"\bc-?pvc|chlorinated"), "cpvc"),
    (re.compile(r"\bu?-?pvc|vinyl chloride|^$"), "pvc"),
    (re.compile(r"\bpex|cross-?linked"), "pex"),
    (re.compile(r"\b(?:hd|ld|lld|md)?pe\d*\b|poly|\bsidr|drip"), "pe"),
)


def material_named(words: str) -> str:
    """The material that somebody's words mean; words that name none of them as they are.

    Examples
    --------
    >>> material_named("C-PVC"), material_named(""), material_named("tin")
    ('cpvc', 'pvc', 'tin')
    """
    plain = words.strip().casefold()
    return next((name for pattern, name in _MATERIAL_WORDS if pattern.search(plain)), plain)


#: Names of kinds of joint, by their ids in joints.csv.
JOINTS = {row.id: " ".join(row.also_called) for row in joints().values()}
