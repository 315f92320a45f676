"""Two hundred random requests a calculation, seeded, each answer beside somebody else's figure.

Whole requests as a person types them, in inches or millimetres, psi or bar, °F or °C: so units,
defaults and look-ups are in what is compared, not the formula alone.
"""

from __future__ import annotations

import csv
import math
import statistics
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest
from fluids.friction import friction_factor
from iapws import IAPWS95
from scipy.optimize import brentq
from scipy.stats import norm
from sklearn.naive_bayes import CategoricalNB
from uncertainties import ufloat

from fieldkit.engine.diagnosing.belief import posterior
from fieldkit.flows.calculations import calculate
from fieldkit.flows.choosing.prices import demo_prices
from fieldkit.tables.diagnosis import base_rows, causes, judged, options, questions

REQUESTS = 200
TABLES = Path(__file__).resolve().parents[2] / "fieldkit" / "tables"

# ── As a person types it ─────────────────────────────────────────────────────────────────────


def inches(chance, value):
    return chance.choice((f"{value:.6f} in", f"{value * 25.4:.5f} mm"))


def psi(chance, value):
    return chance.choice((f"{value:.5f} psi", f"{value * 0.0689475729:.7f} bar"))


def heat(chance, value):
    return chance.choice((f"{value:.4f} F", f"{(value - 32) / 1.8:.5f} °C"))


def feet(chance, value):
    return chance.choice((f"{value:.5f} ft", f"{value * 0.3048:.6f} m"))


def rows_of(name):
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def water(kelvin):
    return IAPWS95(T=kelvin, P=0.101325)


# ── One request and its check each ───────────────────────────────────────────────────────────


def measure(chance):
    """Handbook coefficients of growth (per °F) and a mean with its error by ``uncertainties``."""
    material, alpha = chance.choice((("pvc", 3.0e-5), ("pe", 9.0e-5)))
    at_f, across = chance.uniform(40, 110), chance.uniform(0.3, 3.0)
    read = [across + chance.uniform(-0.002, 0.002) for _ in range(chance.randint(1, 8))]
    answer = calculate("measure", {
        "readings": [inches(chance, one) for one in read], "method": "caliper",
        "material": material, "temperature": heat(chance, at_f), "zero": "0 in",
    })  # fmt: skip
    theirs = statistics.fmean(read) * (1 - ufloat(alpha, alpha * 0.15) * (at_f - 73.0))
    assert answer.od_in == pytest.approx(theirs.n, rel=5e-4)
    assert answer.u_od_in > 2 * theirs.s


@cache
def _pipes():
    return rows_of("pipes")


def _middle(row, size):
    value, less, more = (float(row[f"{size}{part}_in"]) for part in ("", "_minus", "_plus"))
    return value + (more - less) / 2, (more + less) ** 2 / 12


def identify(chance):
    """Bayes' rule by scipy's normal over the outsides of the table, as its CSV has them."""
    od, u = chance.uniform(0.2, 5.0), chance.uniform(0.002, 0.01)
    weights = {"unlisted": 0.05 / (od * math.log(60))}
    total = sum(float(row["share"]) for row in _pipes())
    for row in _pipes():
        mean, var = _middle(row, "od")
        if row["sized_by"] == "ID" and row["wall_in"]:
            bore, wall = _middle(row, "bore"), _middle(row, "wall")
            mean, var = bore[0] + 2 * wall[0], bore[1] + 4 * wall[1]
        chance_of = 0.95 * float(row["share"]) / total
        weights[row["id"]] = chance_of * norm.pdf(od, mean, math.hypot(u / 2, math.sqrt(var)))
    answer = calculate("identify", {"od": inches(chance, od), "u_od": inches(chance, u)})
    for one in answer.candidates:
        if one["id"] != "unlisted":
            theirs = weights[one["id"]] / sum(weights.values())
            assert one["probability"] == pytest.approx(theirs, abs=2e-3)


def transition(chance):
    """Prices added up, and no way that another beats on every count, by comparing all pairs."""
    prices = demo_prices()
    pressure = chance.uniform(5, 45)
    answer = calculate("transition", {
        "pvc": {"nominal": chance.choice(("1/2", "3/4", "1")), "class": "Sch 40"},
        "tubing": chance.choice((
            {"od": "0.700 in", "bore": "0.600 in"}, {"od": "0.710 in", "bore": "0.620 in"},
        )),
        "place": chance.choice(("end", "inline")), "pressure": psi(chance, pressure),
        "prices": dict(prices), "temperature": "73 F",
    })  # fmt: skip
    counts = []
    for one in answer.assemblies:
        assert one.cost == pytest.approx(sum(p.count * prices.get(p.id, 0.0) for p in one.parts))
        assert one.holds_psi >= pressure * (1 - 1e-6)
        assert one.holds_psi == pytest.approx(min(joint.holds_psi for joint in one.joints))
        counts.append((one.cost, one.minutes, one.wait_minutes, -one.holds_psi,
                       not one.reusable, one.hand_strength))  # fmt: skip
    for at, one in enumerate(counts):
        assert not any(
            all(a <= b for a, b in zip(other, one, strict=True)) and other != one
            for other in counts[:at] + counts[at + 1 :]
        )


def join(chance):
    """The printed schedules looked up in their CSV: the slower, half again as long when damp."""
    size, inch = chance.choice((("1/2", 0.5), ("1", 1.0), ("2", 2.0), ("3", 3.0)))
    at_f, damp = chance.uniform(1, 99), chance.choice((40, 90))
    pressure = chance.uniform(1, 160)
    answer = calculate("join", {
        "pipe": {"nominal": size, "class": "Sch 40"}, "temperature": heat(chance, at_f),
        "humidity": f"{damp} %", "pressure": psi(chance, pressure),
    })  # fmt: skip
    minutes = [
        float(row["minutes"])
        for row in rows_of("cure_times")
        if float(row["coldest_f"]) <= at_f < float(row["warmest_f"])
        and float(row["smallest_in"]) <= inch <= float(row["largest_in"] or 99)
        and float(row["over_psi"]) < pressure <= float(row["up_to_psi"])
    ]
    assert answer.cure_minutes == pytest.approx(max(minutes) * (1.5 if damp > 60 else 1.0))


#: Threads per inch and pitch diameter at the hand-tight plane, ASME B1.20.1. [1/in, in]
NPT = {"1/2": (14, 0.77843), "3/4": (14, 0.98887), "1": (11.5, 1.23863), "2": (11.5, 2.29627)}


def thread(chance):
    """Taper of 1 in 16: the female opens p/16 a turn, and is strained by that over its width."""
    size = chance.choice(list(NPT))
    tpi, wide = NPT[size]
    turns = chance.uniform(0.0, 5.0)
    answer = calculate("thread", {
        "size": size, "male": "plastic", "female": "plastic", "turns_past_hand_tight": turns,
        "male_thread": "npt", "female_thread": "npt",
    })  # fmt: skip
    stress = 400_000 * (1 / tpi / 16) * turns / wide
    assert answer.hoop_stress_psi == pytest.approx(stress, rel=1e-6)
    if stress > 4000:  # twice the design stress of PVC 1120, ASTM D1785
        assert answer.verdict == "too_tight"


#: Ratings printed in ASTM D1785 for Schedule 40 at 73 °F, and the heat factors of ppfa. [psi]
SCH_40 = {"1/2": 600, "3/4": 480, "1": 450, "1-1/4": 370, "1-1/2": 330, "2": 280, "4": 220}
DERATED = {73: 1.0, 80: 0.88, 90: 0.75, 100: 0.62, 110: 0.51, 120: 0.40, 130: 0.31, 140: 0.22}


def plan_test(chance):
    """Never over one and a half times the working pressure, nor over what the pipe is printed."""
    size, at_f = chance.choice(list(SCH_40)), chance.uniform(50, 139)
    working, up_ft = chance.uniform(5, 250), chance.uniform(-20, 40)
    answer = calculate("plan_test", {
        "parts": [{"kind": "pipe", "nominal": size, "class": "Sch 40", "height": "0 ft"}],
        "working_pressure": psi(chance, working), "temperature": heat(chance, at_f),
        "gauge_height": feet(chance, up_ft),
    })  # fmt: skip
    factor = next(share for hot, share in DERATED.items() if at_f <= hot)
    carried = SCH_40[size] * factor - 62.4 / 144 * up_ft
    assert answer.test_pressure_psi <= max(0.0, min(1.5 * working, carried)) + 0.1 + up_ft * 1e-3
    if 1.5 * working < 0.45 * SCH_40[size] * factor - 0.5 * max(0.0, up_ft):
        assert answer.test_pressure_psi == pytest.approx(1.5 * working, rel=1e-5)


def judge_test(chance):
    """At one temperature V ΔP (1/K + thick wall) left: IAPWS, Lamé, the middle wall of D1785."""
    od, wall = chance.choice(((0.840, 0.119), (1.050, 0.123), (2.375, 0.164)))
    size = {0.840: "1/2", 1.050: "3/4", 2.375: "2"}[od]
    length, minutes = chance.uniform(50, 500), chance.choice((30, 60, 120))
    at_f, start = chance.choice((50.0, 68.0, 85.0)), chance.uniform(50, 120)
    fall = chance.uniform(0.0, 0.3) * start
    answer = calculate("judge_test", {
        "line": [{"material": "pvc", "nominal": size, "class": "Sch 40",
                  "length": feet(chance, length)}],
        "restraint": "free", "minutes": minutes, "visible_leak": False,
        "minutes_since_pumped": 1e6, "gauge_division": "1 psi",
        "start": {"pressure": psi(chance, start), "water_temperature": heat(chance, at_f)},
        "end": {"pressure": psi(chance, start - fall), "water_temperature": heat(chance, at_f)},
    })  # fmt: skip
    outside, inside = od / 2, od / 2 - wall
    kelvin = round((at_f + 459.67) / 1.8, 3)
    bulk = 1e6 / (water(kelvin).kappa * 6894.757)  # kappa is per MPa
    # Lamé, closed ends: hoop and axial strain at the bore; E 400,000 psi and ν 0.38 of PVC.
    ratio = inside**2 / (outside**2 - inside**2)
    hoop = ratio * (1 + outside**2 / inside**2)
    strain = (2 * (hoop + 0.38) - 2 * 0.38 * ratio + ratio - 0.38 * (hoop - 1)) / 400_000
    volume = math.pi * inside**2 * length * 12 * 16.387064
    lost = volume * fall * (1 / bulk + strain) / minutes
    assert answer.leak_ml_per_min == pytest.approx(lost, rel=0.08, abs=0.02 * volume / 1e4)
    assert answer.leak_lower_ml_per_min <= lost <= answer.leak_upper_ml_per_min


def friction(chance):
    """Darcy–Weisbach by ``fluids`` (Colebrook) and IAPWS water."""
    bore, flow = chance.uniform(0.4, 3.0), chance.uniform(0.2, 30)
    length, kelvin = chance.uniform(5, 500), chance.choice((283.15, 293.15, 303.15))
    answer = calculate("friction", {
        "bore": inches(chance, bore), "flow": f"{flow} gpm", "length": feet(chance, length),
        "method": "darcy", "temperature": f"{kelvin - 273.15:.2f} °C", "barbs": 0,
    })  # fmt: skip
    speed = flow * 3.785411784e-3 / 60 / (math.pi / 4 * (bore * 0.0254) ** 2)
    reynolds = speed * bore * 0.0254 / water(kelvin).nu
    if 2200 < reynolds < 4200:  # between laminar and turbulent each book has its own
        return
    rough = 1.5e-6 / (bore * 0.0254)
    factor = 64 / reynolds
    if reynolds > 4000:
        factor = friction_factor(Re=reynolds, eD=rough, Method="Colebrook")
    pascal = factor * length * 0.3048 / (bore * 0.0254) * water(kelvin).rho * speed**2 / 2
    assert answer.loss_psi == pytest.approx(pascal / 6894.757, rel=2e-3)
    assert answer.reynolds == pytest.approx(reynolds, rel=2e-3)


def lateral(chance):
    """The inlet that a far end asks for, by a march of its own, and scipy's root of it."""
    bore, number = chance.choice((0.5, 0.6, 0.8)), chance.randint(5, 40)
    gph, inlet = chance.uniform(0.5, 2.0), chance.uniform(12, 40)
    answer = calculate("lateral", {
        "bore": inches(chance, bore), "outlet_flow": f"{gph} gph", "spacing": "1 ft",
        "inlet_pressure": psi(chance, inlet), "outlet_pressure": f"{inlet} psi",
        "exponent": 0.5, "outlets": number, "method": "hazen_williams", "c": 140, "slope": "0 %",
        "emitter_barb": "none", "inlet_k": 0,
    })  # fmt: skip

    def at_inlet(end):
        pressure, flow = end, 0.0
        for _ in range(number):
            flow += gph / 60 * math.sqrt(pressure / inlet)
            pressure += 0.2083 * (100 / 140) ** 1.852 * flow**1.852 / bore**4.8655 / 100 * 0.4331
        return pressure - inlet

    theirs = brentq(at_inlet, 0.01, inlet)
    assert inlet - answer.end_pressure_psi == pytest.approx(inlet - theirs, rel=2e-3, abs=1e-3)


def surge(chance):
    """Joukowsky and Korteweg in SI, from the customary 300,000 psi and 1.94 slug/ft³."""
    od, dr = chance.uniform(0.8, 6.0), chance.uniform(9, 32)
    speed, static = chance.uniform(0.5, 8), chance.uniform(0, 100)
    wall = od / dr
    answer = calculate("surge", {
        "pipe": {"material": "pvc", "od": inches(chance, od), "wall": inches(chance, wall)},
        "velocity_change": f"{speed} ft/s", "static_pressure": psi(chance, static),
    })  # fmt: skip
    rho = 1.94 * 515.3788
    bulk, modulus = 300_000 * 6894.757, 400_000 * 6894.757
    wave = math.sqrt(bulk / rho / (1 + bulk / modulus * (od - 2 * wall) / wall))
    rise = rho * wave * speed * 0.3048 / 6894.757
    assert answer.wave_speed_ft_s == pytest.approx(wave / 0.3048, rel=1e-4)
    assert answer.surge_psi == pytest.approx(rise, rel=3e-3)  # 2.31 ft/psi is rounded
    assert answer.peak_psi == pytest.approx(static + answer.surge_psi, abs=1e-3)


def hold(chance):
    """Push P π d² / 4; and a joint is let go of exactly where the pressure passes its limit."""
    static, beyond = chance.uniform(1, 90), chance.uniform(0, 60)
    at_f, seal = chance.uniform(50, 139), chance.uniform(0.3, 2.0)
    answer = calculate("hold", {
        "joint": {"kind": chance.choice(("barb_clamped", "ring", "collar")),
                  "diameter": inches(chance, seal)},
        "static_pressure": psi(chance, static), "surge": psi(chance, beyond),
        "temperature": heat(chance, at_f),
    })  # fmt: skip
    assert answer.peak_psi == pytest.approx(static + beyond, rel=1e-5)
    assert answer.thrust_lbf == pytest.approx(
        (static + beyond) * math.pi * (seal / 2) ** 2, rel=1e-4
    )
    assert (answer.verdict == "lets_go") == (static + beyond > answer.limit_psi)
    if answer.verdict == "holds":  # some of the limit is left
        assert static + beyond < 0.95 * answer.limit_psi


@cache
def _bayes(question):
    """One question's chances as scikit-learn holds them, cause by cause."""
    slip = questions()[question].slip
    rows = [judged().get((one, question), base_rows()[question]) for one in causes()]
    rows = [tuple((1 - slip) * p + slip / len(row) for p in row) for row in rows]
    model = CategoricalNB(alpha=1e-10, force_alpha=True)
    count = len(rows[0])
    seen = [[option] for _ in rows for option in range(count)]
    model.fit(seen, [at for at in range(len(rows)) for _ in range(count)],
              sample_weight=[chance for row in rows for chance in row])  # fmt: skip
    return model.feature_log_prob_[0]


def diagnose(chance):
    """Naive Bayes by scikit-learn over the same rows."""
    free = [q for q, own in options().items() if not any(o.only_with for o in own)]
    asked = chance.sample(free, 3)
    given = {q: chance.choice(options()[q]).option_id for q in asked if q != "fitting_type"}
    ours = posterior(given)
    logs = [math.log(row.prior_weight) for row in causes().values()]
    for question, option in given.items():
        at = [o.option_id for o in options()[question]].index(option)
        logs = [log + _bayes(question)[one][at] for one, log in enumerate(logs)]
    top = max(logs)
    weights = [math.exp(log - top) for log in logs]
    for one, weight in zip(causes(), weights, strict=True):
        assert ours[one] == pytest.approx(weight / sum(weights), abs=1e-6)
    ranked = calculate("diagnose", {"answers": given}).causes
    assert all(a.probability >= b.probability for a, b in pairwise(ranked))


CHECKS = (measure, identify, transition, join, thread, plan_test, judge_test, friction, lateral,
          surge, hold, diagnose)  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_two_hundred_requests_agree_with_a_witness(check):
    chance = Random(check.__name__)  # noqa: S311  -- repeatable requests, not a secret
    for _ in range(REQUESTS):
        check(chance)
