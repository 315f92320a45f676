"""Putting flexible tubing on: how far, how many clamps, which way the nut turns."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.heat import heat_factor, hot_ceiling
from fieldkit.engine.joining.weld_parts import Do
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, worked
from fieldkit.tables.fittings import Joint, joints, made_by
from fieldkit.tables.joining import ClampRule, clamp_rules

#: Soft drip tubing goes by the PVC heat row and thick pipe by its own. Source: materials.csv.
HEAT_OF = {"thin": "pvc", "thick": "pe3608"}

#: How long stiff tubing is held in hot water. Source: trade. [s]
WARM_SECONDS = 60.0


#: The kinds that are pushed on, in the order of the table.
KINDS = tuple(kind for kind in joints() if kind in made_by("push"))


@dataclass(frozen=True, kw_only=True, slots=True)
class TubeEnd(Answer):
    """How one end goes on. ``ceiling_psi`` is common practice at the temperature given."""

    kind: str
    depth_rule: Text
    clamps: int
    nut: Text | None
    ceiling_psi: float
    pressure_psi: float | None
    temperature_f: float
    steps: tuple[Do, ...]


def clamp_rule(tube: str, pressure_psi: float) -> ClampRule:
    """The row that says how many clamps a barb needs.

    Parameters
    ----------
    tube : str
        ``thin`` drip tubing or ``thick`` pipe sized by its bore.
    pressure_psi : float
        Highest pressure, 0 to 60 on thin and 160 on thick. [psi]

    Returns
    -------
    ClampRule
        Row with the count. [1]

    Raises
    ------
    OutOfRange
        More than any clamp holds by common practice, or no such kind of tube.

    Source
    ------
    drip-blowoff-pages, astm-d2609 from memory, trade.

    Examples
    --------
    >>> clamp_rule("thin", 25.0).clamps, clamp_rule("thick", 100.0).clamps
    (0, 2)
    """
    require(pressure_psi, "pressure", at_least=0.0, unit="psi", places=0)
    rows = [row for row in clamp_rules() if row.tube == tube]
    if not rows:
        raise OutOfRange(
            "tube", tube, say("This kind of tube is not listed."), say("Say thin or thick.")
        )
    for row in rows:
        if pressure_psi <= row.up_to_psi:
            return row
    limit = Figure(rows[-1].up_to_psi, "psi")
    raise OutOfRange(
        "pressure",
        pressure_psi,
        say("No clamp makes this tubing hold more than {limit}.", limit=limit),
        say("Fit a regulator before it, or use pipe made for the pressure."),
    )


def push_on(
    kind: str,
    *,
    pressure_psi: float | None = None,
    tube: str = "thin",
    temperature_f: float = 73.0,
    rating_psi: float | None = None,
) -> TubeEnd:
    """How a tube or pipe end goes on, and whether that kind of end suits the pressure.

    Parameters
    ----------
    kind : str
        A joint of ``joints.csv`` that is pushed on: one of ``KINDS``.
    pressure_psi : float or None
        Highest pressure at the joint, 0 or more; None when not known. [psi]
    tube : str
        ``thin`` drip tubing or ``thick`` pipe sized by its bore.
    temperature_f : float
        Hottest that tube and water get, up to 140. [°F]
    rating_psi : float or None
        Rating of the tube itself when cool; no clamp makes it more. [psi]

    Returns
    -------
    TubeEnd
        Depth rule, clamps, steps and the usual ceiling. [psi]

    Raises
    ------
    OutOfRange
        Unknown kind, or hotter than any rating.

    Source
    ------
    trade and drip-blowoff-pages for ceilings and clamps; ppfa-3-96 and ppi-tr-3 for heat.

    Examples
    --------
    >>> push_on("barb_clamped", pressure_psi=45.0).clamps
    1
    >>> push_on("ring", pressure_psi=70.0).verdict
    'too_much'
    """
    if kind not in KINDS:
        raise OutOfRange(
            "kind",
            kind,
            say("This kind of end is not pushed on."),
            say("Choose one of: {kinds}.", kinds=", ".join(KINDS)),
        )
    if pressure_psi is not None:
        require(pressure_psi, "pressure", at_least=0.0, unit="psi", places=0)
    joint = joints()[kind]
    heat = heat_factor("pvc" if joint.on_pipe else HEAT_OF.get(tube, "pvc"), temperature_f)
    rules = [row for row in clamp_rules() if row.tube == tube]
    cold_psi = joint.ceiling_psi
    if joint.end_x == "barb" and tube == "thick":
        # A bare barb has no place on thick pipe; two clamps carry the pipe's own rating at most.
        cold_psi = rules[-1].up_to_psi if kind == "barb_clamped" else 0.0
    if rating_psi is not None:
        cold_psi = min(cold_psi, rating_psi)
    ceiling_psi, heated = hot_ceiling(joint, cold_psi, heat, temperature_f)
    clamps, rule = _clamps(kind, tube, pressure_psi, heat.factor)
    too_much = pressure_psi is not None and pressure_psi > ceiling_psi
    lines = [*heated]
    if rule is not None:
        lines.append(worked("clamps", float(clamps), rests=rule, tube=tube, pressure=pressure_psi))
    return TubeEnd(
        verdict="too_much" if too_much or ceiling_psi == 0.0 else "ok",
        headline=_headline(joint, too_much=too_much, ceiling_psi=ceiling_psi, clamps=clamps),
        cautions=_cautions(joint, temperature_f),
        working=tuple(lines),
        kind=kind,
        depth_rule=say(joint.depth),
        clamps=clamps,
        nut=say(joint.nut) if joint.nut else None,
        ceiling_psi=ceiling_psi,
        pressure_psi=pressure_psi,
        temperature_f=temperature_f,
        steps=_steps(joint, clamps),
    )


def _clamps(
    kind: str, tube: str, pressure_psi: float | None, factor: float
) -> tuple[int, ClampRule | None]:
    """Clamps for a barb: heat counts as pressure. Unknown pressure takes the most clamps."""
    if kind != "barb_clamped":
        return 0, None
    rows = [row for row in clamp_rules() if row.tube == tube]
    most = rows[-1]
    if pressure_psi is None or pressure_psi / factor > most.up_to_psi:
        return most.clamps, most
    rule = clamp_rule(tube, pressure_psi / factor)
    return max(1, rule.clamps), rule


def _headline(joint: Joint, *, too_much: bool, ceiling_psi: float, clamps: int) -> Text:
    depth = say(joint.depth)
    if ceiling_psi == 0.0:
        return say("Thick pipe never goes on a bare barb: clamp it.")
    if too_much:
        return say(
            "Too much pressure for this end: it is good to about {psi}.",
            psi=rating_figure(ceiling_psi),
        )
    if clamps == 1:
        return say("One stainless clamp. {depth}", depth=depth)
    if clamps > 1:
        return say("{n} stainless clamps, screws on opposite sides. {depth}", n=clamps, depth=depth)
    return depth


def _steps(joint: Joint, clamps: int) -> tuple[Do, ...]:
    pipe = joint.on_pipe
    steps = [
        Do(say("Cut the end square and clean."), None, say("A slant seals on one side only.")),
        Do(
            say("Bevel the edge and wipe it: no scratch or print where it seals.")
            if pipe
            else say("Cut back any end that is stretched, scratched or has been used before."),
            None,
            say("A ring or barb grips only round, smooth plastic."),
        ),
        Do(
            say("Mark how deep it goes: lay it beside the fitting."),
            None,
            say("The mark shows that it is home."),
        ),
    ]
    if not pipe:
        steps.append(
            Do(
                say(
                    "If it is stiff, warm the end for a minute in hot water, which scalds: gloves"
                    " on. No flame, no oil."
                ),
                WARM_SECONDS,
                say("Warm tubing goes on without tearing; oil lets it slip off again."),
            )
        )
    if joint.nut:
        steps.append(Do(say(joint.nut), None, say("A nut turned the wrong way lets go.")))
    steps.append(Do(say(joint.push), None, say(joint.depth)))
    if joint.lock:
        why = say("Clamps: {n}.", n=clamps) if clamps else say("The nut holds the tube.")
        steps.append(Do(say(joint.lock), None, why))
    steps.append(Do(say("Tug it hard by hand."), None, say("Water pulls harder than you think.")))
    return tuple(steps)


def _cautions(joint: Joint, temperature_f: float) -> tuple[Text, ...]:
    found = [say(joint.watch)] if joint.watch else []
    if temperature_f <= 73.0:
        found.append(say("The ceiling holds at 73 °F. Sun-warmed tubing holds less."))
    sealed = ("grease",) if joint.seals == "outside" else ()
    care = ("depressurise", "blade", "brace", "eyes", "warm_water", *sealed, "local_code")
    return (*found, *caution(*care))
