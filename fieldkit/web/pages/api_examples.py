"""Requests of each calculation that between them use every key it reads.

The description of the API is made by playing them, so they are its examples, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

#: calculation → what the request shows → the request.
EXAMPLES: Mapping[str, Mapping[str, dict[str, Any]]] = {
    "measure": {
        "caliper": {
            "readings": ["0.702 in", "0.698 in", "0.701 in", "0.700 in"],
            "method": "caliper",
            "material": "pe",
            "temperature": "95 F",
            "resolution": "0.001 in",
            "paired": True,
            "zero": "0.001 in",
        },
        "strip": {
            "readings": ["2.66 in"],
            "method": "strip",
            "material": "pvc",
            "temperature": "68 F",
            "resolution": "1/64 in",
            "paper": "0.004 in",
            "turns": 1,
        },
    },
    "identify": {
        "outside": {"od": "17.8 mm", "u_od": "0.1 mm", "rigid": False, "region": "metric"},
        "every_look": {
            "od": "0.840 in",
            "u_od": "0.004 in",
            "wall": "0.109 in",
            "u_wall": "0.002 in",
            "bore": "0.622 in",
            "u_bore": "0.004 in",
            "rigid": True,
            "print_line": "PVC 1120 SCH 40 1/2 IN ASTM D1785",
        },
    },
    "transition": {
        "end": {
            "pvc": {"nominal": "1/2", "class": "Sch 40", "od": "0.840 in"},
            "tubing": {"od": "0.700 in", "bore": "0.600 in"},
            "place": "end",
            "branches": 1,
            "valve": False,
            "count": 4,
            "pressure": "20 psi",
            "surge": "5 psi",
            "temperature": "80 F",
            "cure_temperature": "60 F",
            "humidity": "50 %",
            "wants": {
                "reusable": True,
                "no_cement": False,
                "easy_hands": False,
                "buried": False,
                "cheapest": True,
            },
            "prices": "demo",
            "labour_per_hour": 40,
            "wait_cost": 5,
        },
        "from_a_thread": {
            "pvc": {"nominal": "1/2"},
            "tubing": {"bore": "0.600 in", "wall": "0.050 in"},
            "start": "npt-male",
            "start_material": "metal",
            "prices": {"coupling_0500": 0.5},
        },
        "size_by_name": {
            "pvc": {"nominal": "3/4"},
            "tubing": {"half_inch": True},
            "parts_to_hand": ["coupling_0750"],
        },
    },
    "join": {
        "steady": {
            "pipe": {"nominal": "3/4", "class": "Sch 40", "material": "pvc", "od": "1.050 in"},
            "temperature": "50 F",
            "humidity": "60 %",
            "pressure": "40 psi",
            "one_step": False,
            "made_at": "2026-05-01T09:00",
        },
        "forecast": {
            "pipe": {"nominal": "1", "class": "Sch 80"},
            "forecast": [
                {"from": "2026-05-01T09:00", "temperature": "50 F"},
                {"from": "2026-05-01T15:00", "temperature": "68 F"},
            ],
            "forecast_until": "2026-05-04T09:00",
            "dry_fit": "snug",
        },
    },
    "thread": {
        "plastic": {
            "size": "1/2",
            "male": "plastic",
            "female": "plastic",
            "male_thread": "npt",
            "female_thread": "npt",
            "turns_past_hand_tight": 1.5,
            "sealant": "tape",
        },
    },
    "plan_test": {
        "line": {
            "parts": [
                {"kind": "pipe", "nominal": "1", "class": "Sch 40", "length": "120 ft"},
                {"kind": "barb_clamped", "nominal": "1", "clamps": 2, "height": "-3 ft"},
                {"kind": "tubing", "material": "drip", "nominal": "1/2", "rating": "50 psi"},
            ],
            "working_pressure": "30 psi",
            "temperature": "80 F",
            "gauge_height": "1.5 ft",
            "use": "drip",
        },
        "before_the_cure": {
            "parts": [{"kind": "pipe", "nominal": "1", "class": "Sch 40"}],
            "working_pressure": "40 psi",
            "ready_at": "2026-05-02T09:00:00Z",
            "now": "2026-05-01T14:00:00Z",
            "override_reason": "The cement’s own label says two hours.",
        },
        "cure_by_minutes": {
            "parts": [{"kind": "pipe", "nominal": "1", "class": "Sch 40"}],
            "working_pressure": "40 psi",
            "cure_remaining_minutes": 90,
        },
    },
    "judge_test": {
        "start_and_end": {
            "line": [{"material": "pvc", "nominal": "2", "class": "Sch 40", "length": "300 ft"}],
            "restraint": "buried",
            "start": {"pressure": "100 psi", "water_temperature": "68 F"},
            "end": {"pressure": "99 psi", "water_temperature": "67 F"},
            "minutes": 60,
            "visible_leak": False,
            "gauge_division": "1 psi",
            "gasketed_joints": 0,
        },
        "readings": {
            "line": [
                {"material": "pe", "od": "0.940 in", "bore": "0.820 in", "length": "60 ft"},
                {"material": "pvc", "od": "1.315 in", "wall": "0.133 in", "length": "60 ft"},
            ],
            "restraint": "free",
            "readings": [
                {"at": "2026-05-01T14:00:00Z", "pressure": "30 psi", "water_temperature": "58 F"},
                {"at": "2026-05-01T15:00:00Z", "pressure": "29 psi", "water_temperature": "58 F"},
            ],
            "pumped_volume": "0.2 L",
            "expansion_phase": True,
        },
        "readings_by_minutes": {
            "line": [{"nominal": "1", "class": "Sch 40", "length": "60 ft"}],
            "readings": [
                {"minutes": 0, "pressure": "60 psi"},
                {"minutes": 60, "pressure": "59.5 psi"},
            ],
        },
    },
    "friction": {
        "by_bore": {
            "bore": "1.049 in",
            "flow": "10 gpm",
            "length": "100 ft",
            "method": "hazen_williams",
            "c": 150,
            "roughness": "0.0015 mm",
            "temperature": "68 F",
            "barbs": 2,
            "barb_bore": "0.900 in",
        },
        "by_name": {
            "pipe": {"material": "pvc", "nominal": "1", "class": "Sch 40"},
            "flow": "10 gpm",
            "method": "darcy",
        },
        "tubing": {"tubing": {"od": "0.700 in", "wall": "0.050 in"}, "flow": "2 gpm"},
        "ratio": {"material": "pe", "od": "1.660 in", "dr": 11, "flow": "10 gpm"},
        "size": {"size": "1", "class": "Sch 40", "flow": "10 gpm"},
    },
    "lateral": {
        "longest": {
            "bore": "0.600 in",
            "outlet_flow": "1 gph",
            "outlet_pressure": "20 psi",
            "spacing": "1 ft",
            "first": "0.5 ft",
            "inlet_pressure": "20 psi",
            "exponent": 0.5,
            "variation": "20 %",
            "slope": "1 %",
            "cv": 0.03,
            "emitters_per_plant": 2,
            "method": "hazen_williams",
            "c": 140,
            "temperature": "68 F",
        },
        "one_length": {
            "tubing": {"od": "0.700 in", "bore": "0.600 in"},
            "outlet_flow": "1 gph",
            "spacing": "1 ft",
            "inlet_pressure": "20 psi",
            "length": "100 ft",
            "method": "darcy",
            "roughness": "0.0015 mm",
        },
        "with_a_submain": {
            "bore": "0.600 in",
            "outlet_flow": "1 gph",
            "spacing": "1 ft",
            "inlet_pressure": "20 psi",
            "outlets": 50,
            "submain": {"bore": "0.820 in", "spacing": "3 ft", "laterals": 6},
        },
    },
    "surge": {
        "one_pipe": {
            "pipe": {"material": "pvc", "od": "1.315 in", "wall": "0.133 in"},
            "velocity_change": "5 ft/s",
            "static_pressure": "40 psi",
            "length": "100 ft",
            "closure_seconds": 0.5,
        },
        "into_tubing": {
            "pipe": {"nominal": "1", "class": "Sch 40"},
            "flow": "8 gpm",
            "static_pressure": "40 psi",
            "into": [{"od": "0.700 in", "wall": "0.050 in", "modulus": "30000 psi"}],
        },
        "sizes_beside": {
            "material": "pvc",
            "od": "1.315 in",
            "bore": "1.049 in",
            "velocity_change": "5 ft/s",
        },
    },
    "hold": {
        "one_joint": {
            "joint": "barb_clamped",
            "tubing": {"od": "0.700 in", "bore": "0.600 in"},
            "static_pressure": "40 psi",
            "surge": "15 psi",
            "temperature": "95 F",
            "clamps": 1,
            "bend": 90,
        },
        "an_assembly": {
            "assembly": [
                {"kind": "solvent_socket", "between": ["pipe", "coupling_0500"], "bend": 90},
                {"kind": "barb_clamped", "clamps": 2, "diameter": "0.600 in", "rating": "80 psi"},
            ],
            "pvc": {"nominal": "1/2", "class": "Sch 40"},
            "tubing": {"od": "0.700 in", "bore": "0.600 in"},
            "static_pressure": "40 psi",
            "surge": {"surge_psi": 15},
        },
        "sizes_beside": {
            "joints": ["ring"],
            "od": "0.700 in",
            "bore": "0.600 in",
            "static_pressure": "30 psi",
        },
        "by_its_pipe": {
            "joint": {"kind": "npt", "nominal": "1", "class": "Sch 80"},
            "pipe": {"nominal": "1", "class": "Sch 80"},
            "static_pressure": "40 psi",
        },
    },
    "diagnose": {
        "first_signs": {
            "answers": {"fitting_type": "barb", "hold_down": "none", "static_psi": "55 psi"},
            "who": "homeowner",
        },
        "with_the_log": {
            "answers": {"fitting_type": "solvent_socket"},
            "job": {"pressure": "52 psi", "cement_temperature": "45 F", "cure_hours": "2 h"},
            "enough": True,
        },
    },
}
