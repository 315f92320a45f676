"""The working of a pressure test, line by line, for whoever wants to check it."""

from __future__ import annotations

import math

from fieldkit.engine.pressure_test.figures import HeldFigures, HeldLine
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.tables.proving_rules import proving_rules, proving_value


def assumed(rule_id: str) -> Line:
    """The line of working that owns up to a default."""
    rule = proving_rules()[rule_id]
    name = say("assumed: {what}", what=rule.name)
    return Line(name, "not given", {}, rule.value, rule.unit, rule.source, rule.status)


def working_of(test: HeldLine, held: HeldFigures) -> tuple[Line, ...]:
    """Every figure of the verdict, with formula, inputs, source and status."""
    water, line, bound = water_at(held.temperature_f), held.line, held.bound
    # The worst of the inputs governs: how a wall gives over time is known from memory.
    status = "from memory"
    materials = ", ".join(dict.fromkeys(s.material.source for s in test.segments))
    lines = [
        *test.assumed,
        Line(
            "volume of the line",
            "V = Σ π/4 d² L",
            {s.name: Figure(s.volume_in3 / 231, "gal", 2) for s in test.segments},
            line.volume_in3 / 231,
            "gal",
            "statics",
            "computed",
        ),
        Line(
            "stiffness of line and water",
            "1 / (1/K + W)",
            {
                "K": Figure(water.bulk_modulus_psi, "psi"),
                "W": f"{line.wall_give_per_psi:.5g} 1/psi",
                "restraint": test.restraint,
                "material rows": materials,
            },
            line.stiffness_psi(held.temperature_f),
            "psi",
            "statics",
            status,
        ),
    ]
    if held.expected_psi is not None:
        lines.append(
            Line(
                "change that heat explains",
                "∫ (β − γ) Keff dT",
                {
                    "from": Figure(held.start.water_temperature_f or 0.0, "°F", 1),
                    "to": Figure(held.end.water_temperature_f or 0.0, "°F", 1),
                    "β": say(
                        "{expansion} 1/°F at {heat} °F",
                        expansion=f"{water.expansion_per_f:.4g}",
                        heat=f"{held.temperature_f:.1f}",
                    ),
                    "γ": f"{line.growth_per_f:.4g} ± {line.growth_half_width_per_f:.2g} 1/°F",
                },
                held.expected_psi,
                "psi",
                "iapws-95",
                status,
            )
        )
        lines.append(
            Line(
                "drop not explained",
                "P_start − P_end + heat − stretch",
                {
                    "P_start": Figure(held.start.pressure_psi, "psi", 1),
                    "P_end": Figure(held.end.pressure_psi, "psi", 1),
                    "heat": Figure(held.expected_psi, "psi", 2),
                    "stretch": Figure(bound.stretch_psi, "psi", 2),
                },
                held.unexplained_psi,
                "psi",
                "statics",
                status,
            )
        )
    if bound.air_share is not None and test.pump_in is not None:
        pumped = test.pump_in
        lines.append(
            Line(
                "trapped air",
                "x = (v/V − (1/K + W) (P2 − P1)) / (14.7/P1 − 14.7/P2), 0 or more",
                {
                    "v": Figure(pumped.volume_ml, "mL"),
                    "V": Figure(line.volume_ml, "mL"),
                    "P1": Figure(pumped.low_psi, "psi", 1),
                    "P2": Figure(pumped.high_psi, "psi", 1),
                },
                bound.air_share,
                "1",
                "statics",
                status,
            )
        )
    terms, k = bound.terms, proving_value("coverage_95")
    lines.append(
        Line(
            "size of the leak",
            "V/t [(P1 − P2) (1/K + W) + x Pa (1/P2 − 1/P1) + ∫ (β − γ) dT − S P D]",
            {
                "V": Figure(line.volume_ml, "mL"),
                "t": Figure(held.minutes, "min"),
                "stretch": Figure(bound.stretch_psi, "psi", 2),
                "drops": say(
                    "{drops} a minute",
                    drops=Figure(max(0.0, bound.best_ml_per_min) * proving_value("drops_per_ml")),
                ),
            },
            bound.best_ml_per_min,
            "mL/min",
            "statics",
            status,
        )
    )
    # Largest first, so that it can be seen what would make the test sharper.
    lines.extend(
        Line(term.name, term.formula, term.inputs, term.ml_per_min, "mL/min", "gum", status)
        for term in terms
    )
    spreads = [term.ml_per_min for term in terms if term.spread]
    lines.append(
        Line(
            "the leak is under, 19 times in 20",
            "q + 1.645 √(Σ u²), q at 0 or more and with the most air; × t where it ran empty",
            {"k": Figure(k, "", 3), "√(Σ u²)": f"{math.hypot(*spreads):.4g} mL/min"},
            bound.upper_ml_per_min,
            "mL/min",
            "gum",
            status,
        )
    )
    lines.append(
        Line(
            "the leak is over, 19 times in 20",
            "q − 1.645 √(Σ u²), with the least air and the most stretch",
            {"k": Figure(k, "", 3)},
            bound.lower_ml_per_min,
            "mL/min",
            "gum",
            status,
        )
    )
    lines.append(
        Line(
            "smallest leak this test could show",
            "2 × 1.645 √(Σ u²) of a tight line, with air and stretch at their worst",
            {"k": Figure(k, "", 3), "minutes": Figure(held.minutes, "min")},
            held.shows_ml_min,
            "mL/min",
            "gum",
            status,
        )
    )
    if held.makeup_ml_min is not None:
        lines.append(
            Line(
                "make-up allowed to gasketed joints",
                "N D √P / 7400 gph",
                {
                    "N": test.gasketed_joints,
                    "D": Figure(test.gasketed_diameter_in, "in", 2),
                    "P": Figure((held.start.pressure_psi + held.end.pressure_psi) / 2, "psi", 1),
                },
                held.makeup_ml_min,
                "mL/min",
                "awwa-c605",
                "secondary",
            )
        )
    lines.extend(
        Line(
            rule.name,
            "5 % of P",
            {"P": Figure(held.start.pressure_psi, "psi", 1)},
            rule.limit,
            rule.unit,
            rule.source,
            rule.status,
        )
        for rule in held.rules
        if rule.id == "polyethylene"
    )
    return tuple(lines)
