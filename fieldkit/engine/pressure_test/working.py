"""The working of a pressure test, line by line, for whoever wants to check it."""

from __future__ import annotations

from fieldkit.engine.pressure_test.figures import HeldFigures, HeldLine
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line as Working
from fieldkit.tables.proving_rules import proving_rules, proving_value


def working_of(test: HeldLine, held: HeldFigures) -> tuple[Working, ...]:
    """Every figure of the verdict, with formula, inputs, source and status."""
    rules = proving_rules()
    water, line = water_at(held.temperature_f), held.line
    # The worst of the inputs governs: the growth of plastics is only known from suppliers.
    status = "from memory" if held.creeps else "secondary"
    materials = ", ".join(dict.fromkeys(s.material.source for s in test.segments))
    lines = [
        *test.assumed,
        Working(
            "volume of the line",
            "V = Σ π/4 d² L",
            {s.name: Figure(s.volume_in3 / 231, "gal", 2) for s in test.segments},
            line.volume_in3 / 231,
            "gal",
            "statics",
            "computed",
        ),
        Working(
            "stiffness of line and water",
            "1/Keff = 1/K + Σ w c Dm/(E t), w = V_i/V",
            {
                "K": Figure(water.bulk_modulus_psi, "psi"),
                "Σ w c Dm/(E t)": f"{line.wall_give_per_psi:.4g} 1/psi",
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
            Working(
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
                    "pipes differ by": Figure(held.spread_psi, "psi", 1),
                },
                held.expected_psi,
                "psi",
                "iapws-95",
                status,
            )
        )
        lines.append(
            Working(
                "drop not explained",
                "P_start − P_end + change that heat explains",
                {
                    "P_start": Figure(held.start.pressure_psi, "psi", 1),
                    "P_end": Figure(held.end.pressure_psi, "psi", 1),
                },
                held.unexplained_psi,
                "psi",
                "statics",
                status,
            )
        )
    allowance = rules["pe_share"] if held.creeps else rules["allowance_share"]
    lines.append(
        Working(
            "allowance",
            "max(2 × gauge division, share × P_start)",
            {
                "gauge division": Figure(test.gauge_division_psi, "psi", 2),
                "share": Figure(allowance.value * 100, "%"),
            },
            held.allowance_psi,
            "psi",
            allowance.source,
            allowance.status,
        )
    )
    if held.creeps:
        lines.append(
            Working(
                "fall by stretch alone, at most",
                "P (1 − Keff,crept / Keff)",
                {"least after hours": Figure(held.creep_low_psi, "psi", 1)},
                held.creep_high_psi,
                "psi",
                "statics",
                "from memory",
            )
        )
    if held.air is not None:
        lines.append(
            Working(
                "trapped air",
                "x = (pumped − V P/Keff) / (V (1 − Pa/P))",
                {"pumped": Figure(test.pumped_ml or 0.0, "mL")},
                held.air,
                "1",
                "statics",
                "computed",
            )
        )
    formula = "(V ΔP/Keff + x V Pa (1/P2 − 1/P1)) / minutes"
    if held.leak_ml_min is not None:
        lines.append(
            Working(
                "size of the leak",
                formula,
                {
                    "ΔP": Figure(max(held.unexplained_psi or 0.0, 0.0), "psi", 1),
                    "minutes": Figure(held.minutes, "min"),
                    "drops": say(
                        "{drops} a minute",
                        drops=Figure(held.leak_ml_min * proving_value("drops_per_ml")),
                    ),
                },
                held.leak_ml_min,
                "mL/min",
                "statics",
                status,
            )
        )
    lines.append(
        Working(
            "smallest leak this test could show",
            formula,
            {"ΔP": Figure(held.allowance_psi, "psi", 1), "minutes": Figure(held.minutes, "min")},
            held.detectable_ml_min,
            "mL/min",
            "statics",
            status,
        )
    )
    if held.makeup_ml_min is not None:
        lines.append(
            Working(
                "make-up allowed to gasketed joints",
                "N D √P / 7400 gph",
                {"N": test.gasketed_joints, "D": Figure(test.gasketed_diameter_in, "in", 2)},
                held.makeup_ml_min,
                "mL/min",
                "awwa-c605",
                "secondary",
            )
        )
    return tuple(lines)
