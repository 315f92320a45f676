"""The working of a pressure test, line by line, for whoever wants to check it."""

from __future__ import annotations

from fieldkit.engine.pressure_test.figures import HeldFigures, HeldLine
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.proving_rules import proving_rules, proving_value

# The worst of the inputs governs: how a wall gives over time is known from memory.
_STATUS = "from memory"


def assumed(rule_id: str) -> Line:
    """The line of working that owns up to a default."""
    rule = proving_rules()[rule_id]
    name = say("assumed: {what}", what=rule.name)
    return Line(name, "not given", {}, rule.value, rule.unit, rule.source, rule.status)


def working_of(test: HeldLine, held: HeldFigures) -> tuple[Line, ...]:
    """Every figure of the verdict, with formula, inputs, source and status."""
    water, line = water_at(held.temperature_f), held.line
    materials = ", ".join(dict.fromkeys(s.material.source for s in test.segments))
    return (
        *test.assumed,
        worked(
            "volume_of_the_line",
            line.volume_in3 / 231,
            {
                f"{at} {s.name}": precise(s.volume_in3 / 231, "gal")
                for at, s in enumerate(test.segments, 1)
            },
        ),
        worked(
            "stiffness_of_line_and_water",
            line.stiffness_psi(held.temperature_f),
            {
                "K": precise(water.bulk_modulus_psi, "psi"),
                "W": precise(line.wall_give_per_psi, "1/psi"),
                "restraint": test.restraint,
                "material rows": materials,
            },
        ),
        *_heat_lines(held, water.expansion_per_f),
        *_air_line(test, held, water.bulk_modulus_psi),
        _size_line(held),
        # Largest first, so that it can be seen what would make the test sharper.
        *(
            Line(term.name, term.formula, term.inputs, term.ml_per_min, "mL/min", "gum", _STATUS)
            for term in held.bound.terms
        ),
        *_bound_lines(held),
        held.shown.line(minutes=precise(held.minutes, "min")),
        *_rule_lines(test, held),
    )


def _heat_lines(held: HeldFigures, expansion_per_f: float) -> tuple[Line, ...]:
    if held.expected_psi is None:
        return ()
    line = held.line
    return (
        worked(
            "change_that_heat_explains",
            held.expected_psi,
            {
                "from": Figure(held.start.water_temperature_f or 0.0, "°F", 1),
                "to": Figure(held.end.water_temperature_f or 0.0, "°F", 1),
                "β": say(
                    "{expansion} 1/°F at {heat} °F",
                    expansion=precise(expansion_per_f),
                    heat=precise(held.temperature_f),
                ),
                "γ": f"{line.growth_per_f:.4g} ± {line.growth_half_width_per_f:.2g} 1/°F",
            },
        ),
        worked(
            "drop_not_explained",
            held.unexplained_psi,
            P_start=Figure(held.start.pressure_psi, "psi", 4),
            P_end=Figure(held.end.pressure_psi, "psi", 4),
            heat=precise(held.expected_psi, "psi"),
            stretch=precise(held.bound.stretch_psi, "psi"),
        ),
    )


def _air_line(test: HeldLine, held: HeldFigures, bulk_psi: float) -> tuple[Line, ...]:
    pumped, line = test.pump_in, held.line
    if held.bound.air_share is None or pumped is None:
        return ()
    return (
        worked(
            "trapped_air",
            held.bound.air_share,
            v=precise(pumped.volume_ml, "mL"),
            V=precise(line.volume_ml, "mL"),
            K=precise(bulk_psi, "psi"),
            W=precise(line.wall_give_per_psi, "1/psi"),
            P1=precise(pumped.low_psi, "psi"),
            P2=precise(pumped.high_psi, "psi"),
            Pa=precise(proving_value("atmosphere_psi"), "psi"),
        ),
    )


def _size_line(held: HeldFigures) -> Line:
    bound = held.bound
    drops = Figure(max(0.0, bound.best_ml_per_min) * proving_value("drops_per_ml"))
    return worked(
        "size_of_the_leak",
        bound.best_ml_per_min,
        V=precise(held.line.volume_ml, "mL"),
        t=precise(held.minutes, "min"),
        P1=Figure(held.start.pressure_psi, "psi", 6),
        P2=Figure(held.end.pressure_psi, "psi", 6),
        C=precise(bound.strains.give, "1/psi"),
        air=precise(bound.strains.squeezed),
        heat=precise(bound.strains.heat),
        stretch=precise(bound.strains.stretch),
        drops=say("{drops} a minute", drops=drops),
    )


def _bound_lines(held: HeldFigures) -> tuple[Line, ...]:
    bound, k = held.bound, precise(proving_value("coverage_95"))
    empty = held.end.pressure_psi <= held.setting.how.gauge_division_psi and held.minutes > 1.0
    most, least = (
        {"q": precise(leak, "mL/min"), "k": k, "u": precise(u, "mL/min")}
        for leak, u in (bound.most, bound.least)
    )
    return (
        worked(
            "leak_under_run_empty" if empty else "leak_under",
            bound.upper_ml_per_min,
            most | ({"t": precise(held.minutes, "min")} if empty else {}),
        ),
        worked("leak_over", bound.lower_ml_per_min, least),
    )


def _rule_lines(test: HeldLine, held: HeldFigures) -> tuple[Line, ...]:
    lines = []
    if held.makeup_ml_min is not None:
        mean_psi = (held.start.pressure_psi + held.end.pressure_psi) / 2
        lines.append(
            worked(
                "makeup_of_gasketed_joints",
                held.makeup_ml_min,
                N=test.gasketed_joints,
                D=precise(test.gasketed_diameter_in, "in"),
                P=precise(mean_psi, "psi"),
            )
        )
    lines.extend(
        Line(
            rule.name,
            "0.05 P",
            {"P": precise(held.start.pressure_psi, "psi")},
            rule.limit,
            rule.unit,
            rule.source,
            rule.status,
        )
        for rule in held.rules
        if rule.id == "polyethylene"
    )
    return tuple(lines)
