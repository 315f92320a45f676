"""Fitting a part that is made step by step as its row of ``joints.csv`` says, such as a saddle."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.heat import heat_factor, hot_ceiling
from fieldkit.engine.joining.weld_parts import Do
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Text, say
from fieldkit.engine.working import Answer
from fieldkit.tables.fittings import joints, made_by


@dataclass(frozen=True, kw_only=True, slots=True)
class FittedPart(Answer):
    """How the part goes on, in order. ``ceiling_psi`` is common practice, hot."""

    kind: str
    ceiling_psi: float
    pressure_psi: float | None
    temperature_f: float
    steps: tuple[Do, ...]


def fit_part(
    kind: str, *, pressure_psi: float | None = None, temperature_f: float = 73.0
) -> FittedPart:
    """How a part goes on, step by step, and whether it suits the pressure.

    Parameters
    ----------
    kind : str
        A joint of ``joints.csv`` whose row says how it is made.
    pressure_psi : float or None
        Highest pressure at the joint, 0 or more; None when not known. [psi]
    temperature_f : float
        Hottest that pipe and water get, up to 140. [°F]

    Returns
    -------
    FittedPart
        Steps and the usual ceiling. [psi]

    Raises
    ------
    OutOfRange
        No such kind, pressure under 0, or hotter than any rating.

    Source
    ------
    The row of joints.csv; ppfa-3-96 for heat. Status: from memory.

    Examples
    --------
    >>> fit_part("saddle", pressure_psi=40.0).verdict, fit_part("saddle", pressure_psi=60.0).verdict
    ('ok', 'too_much')
    """
    if kind not in made_by("steps"):
        raise OutOfRange(
            "kind",
            kind,
            say("This kind of joint is not made step by step here."),
            say("Choose one of: {kinds}.", kinds=", ".join(sorted(made_by("steps")))),
        )
    if pressure_psi is not None:
        require(pressure_psi, "pressure", at_least=0.0, unit="psi", places=0)
    joint, heat = joints()[kind], heat_factor("pvc", temperature_f)
    ceiling_psi, working = hot_ceiling(joint, joint.ceiling_psi, heat, temperature_f)
    too_much = pressure_psi is not None and pressure_psi > ceiling_psi
    return FittedPart(
        verdict="too_much" if too_much else "ok",
        headline=_headline(too_much, ceiling_psi),
        cautions=caution("depressurise", "drill_dry", "eyes", "local_code"),
        working=working,
        kind=kind,
        ceiling_psi=ceiling_psi,
        pressure_psi=pressure_psi,
        temperature_f=temperature_f,
        steps=tuple(
            Do(Text(do, {}), None, Text(reason, {}))
            for do, reason in zip(joint.steps, joint.step_whys, strict=True)
        ),
    )


def _headline(too_much: bool, ceiling_psi: float) -> Text:
    words = (
        "Too much pressure for this part: it is good to about {psi}."
        if too_much
        else "It stays put, and is good to about {psi} unless less is printed on it."
    )
    return say(words, psi=rating_figure(ceiling_psi))
