"""The joint as it is known so far: rigid pipe, parts, tubing and test in one row.

A pure function of the joint's facts. Solid lines are known and to one scale, dashed ones are not
yet known, the chain line is the axis (line types of ISO 128). Rigid PVC is hatched, polyethylene
black, cement a violet band, so that each can be told without its colour (hatches as in
ASME Y14.2). Marks stand where they belong: a leak, a cure that runs, a verdict.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fieldkit.engine.words import Text, say
from fieldkit.flows.checklist import Standing, standing
from fieldkit.flows.drawings.parts_row import in_one_row, pieces_of
from fieldkit.flows.drawings.svg import BOLD, HELP, THIN, WIDTH, Sheet
from fieldkit.flows.figures import amount
from fieldkit.flows.pipe_names import name_on_side
from fieldkit.tables.fittings import made_by
from fieldkit.tables.pipes import pipes

Facts = Mapping[str, Any]

#: Each zone of the strip: its id, the stages that it stands for, and where it lies. [units]
ZONES: Mapping[str, tuple[tuple[str, ...], float, float]] = {
    "pipe": (("measure-pipe", "identify-pipe"), 0.0, 96.0),
    "parts": (("choose", "fit-part", "join-cement", "join-thread", "join-tube"), 96.0, 188.0),
    "tube": (("measure-tube", "identify-tube"), 188.0, 284.0),
    "test": (("plan-test", "prove"), 284.0, WIDTH),
}

_HIGH, _AXIS = 84.0, 42.0
_MOST = 60.0  # the widest thing drawn, across the axis [units]
_USUAL_IN = 0.84  # taken for the scale while nothing is measured [in]
_LABELS = {
    "pipe": say("Rigid pipe"),
    "parts": say("Parts"),
    "tube": say("Tubing"),
    "test": say("Test"),
}

#: Which zone a flow is about; flows about the whole joint are not named.
ZONE_OF_FLOW = {flow: zone for zone, (flows, _, _) in ZONES.items() for flow in flows}


@dataclass(frozen=True, slots=True)
class Zone:
    """One part of the strip in words, and the flow that goes on with it.

    ``state`` is that of the checklist for the stage named; ``done`` when all of them are done.
    """

    id: str
    label: Text
    value: Text
    state: str
    flow: str


@dataclass(frozen=True, slots=True)
class JointStrip:
    """The drawing, and the same as a list of zones for ears and for touch."""

    svg: str
    zones: tuple[Zone, ...]


def joint_strip(facts: Facts, here: str = "", *, curing: bool = False) -> JointStrip:
    """The strip of a joint.

    Parameters
    ----------
    facts : mapping
        The joint's facts, by the names of ``flows.facts``; any may be missing.
    here : str
        The zone in question, drawn in the colour of the action; empty for none.
    curing : bool
        Whether the cement is still curing: the caller knows the time.
    """
    return _strip(json.dumps(facts, sort_keys=True), here, curing)


@lru_cache(maxsize=128)  # each page of a joint shows it, and few pages change the joint's facts
def _strip(told: str, here: str, curing: bool) -> JointStrip:
    facts: Facts = json.loads(told)
    standings = {one.stage.id: one for one in standing(facts)}
    zones = tuple(_zone(name, standings, facts, curing) for name in ZONES)
    return JointStrip(_drawn(facts, here, {zone.id: zone.state for zone in zones}), zones)


def _zone(name: str, standings: Mapping[str, Standing], facts: Facts, curing: bool) -> Zone:
    stages = [standings[one] for one in ZONES[name][0] if one in standings]
    bad = next((one for one in stages if one.state == "failed"), None)
    todo = next((one for one in stages if one.state in {"next", "later"}), None)
    if name == "parts" and curing and bad is None:
        return Zone(name, _LABELS[name], say("cement cures"), "waiting", stages[1].stage.flow)
    done = (one for one in reversed(stages) if one.state == "done")
    at = bad or todo or next(done, stages[0])
    state = "failed" if bad else at.state
    return Zone(name, _LABELS[name], _value(name, facts, state), state, at.stage.flow)


def _value(name: str, facts: Facts, state: str) -> Text:
    if name in {"pipe", "tube"}:
        if facts.get(f"{name}.name") or facts.get(f"{name}.id"):
            return name_on_side(facts, name)
        od, places = facts.get(f"{name}.od_in"), 3
        if od is None:  # a screen tells which size it is, to two hundredths
            od, places = facts.get(f"{name}.screen_od_in"), 2
        return say("not measured") if od is None else amount(od, "in", places)
    if name == "parts":
        if state == "failed":
            return say("to be put right")
        if facts.get("leak.cause") and facts.get("test.verdict") != "holds":
            mended = facts.get("leak.mended_at") is not None
            return say("repaired") if mended else say("to be repaired")
        if not facts.get("parts.assembly"):
            return say("not chosen")
        return say("made") if state == "done" else say("chosen")
    words = {
        "holds": say("holds"),
        "leaks": say("leaks"),
        "repeat": say("test again"),
    }
    if facts.get("test.verdict") in words:
        return words[facts["test.verdict"]]
    return say("not tested") if facts.get("test.pressure_psi") is None else say("planned")


# ── The drawing ──────────────────────────────────────────────────────────────────────────────


def _drawn(facts: Facts, here: str, states: Mapping[str, str]) -> str:
    sheet = Sheet(_HIGH, "strip__draw")
    ends = {side: _diameters(facts, side) for side in ("pipe", "tube")}
    widest = max([_USUAL_IN, *(od for od, _ in ends.values() if od is not None)])
    unit = _MOST * 0.72 / widest
    sheet.line(0, _AXIS, ZONES["tube"][2], _AXIS, "axis", width=HELP)
    if here in ZONES:
        _, left, right = ZONES[here]
        sheet.box(left + 2, 2, right - left - 4, _HIGH - 4, "strip__here", width=0)
    for side in ("pipe", "tube"):
        _length_of(sheet, side, *ends[side], unit)
    _parts(sheet, facts, states["parts"])
    _leak(sheet, facts)
    _gauge(sheet, states["test"], str(facts.get("test.verdict") or ""))
    return sheet.markup()


def _diameters(facts: Facts, side: str) -> tuple[float | None, float | None]:
    """Outside and bore, measured or as listed. [in]"""
    row = pipes().get(str(facts.get(f"{side}.id") or ""))
    seen = (facts.get(f"{side}.screen_{one}_in") for one in ("od", "bore"))
    od, bore = (_number(one, None) for one in seen)
    od = _number(facts.get(f"{side}.od_in"), row.od_in if row else od)
    bore = _number(facts.get(f"{side}.bore_in"), row.bore_in if row else bore)
    wall = _number(facts.get(f"{side}.wall_in"), None)
    if od is not None and bore is None and wall is not None:
        bore = od - 2 * wall
    return od, bore if od is not None and bore is not None and 0 < bore < od else None


def _number(value: object, otherwise: float | None) -> float | None:
    usable = isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 100
    return float(value) if usable else otherwise  # type: ignore[arg-type]


def _length_of(sheet: Sheet, side: str, od: float | None, bore: float | None, unit: float) -> None:
    """A length of pipe or tubing, cut lengthwise: its two walls."""
    _, left, right = ZONES[side]
    left, right = (left, right - 8) if side == "pipe" else (left + 8, right)
    known = od is not None
    outside = min((od or _USUAL_IN) * unit, _MOST)
    hole = (bore * unit if bore is not None else outside * 0.74) if known else outside * 0.74
    wall = (outside - hole) / 2
    css = f"strip__{side}" if known else "strip__unknown"
    for top in (_AXIS - outside / 2, _AXIS + hole / 2):
        sheet.box(left, top, right - left, wall, css, width=THIN)
        if known and side == "pipe":
            sheet.hatch(left, top, right - left, wall)
    if known and bore is None:  # the outside is known, the wall is not
        sheet.box(left, _AXIS - hole / 2, right - left, hole, "strip__guess", width=HELP)


def _parts(sheet: Sheet, facts: Facts, state: str) -> None:
    """What stands between the two: each part a body, each joint its mark."""
    _, left, right = ZONES["parts"]
    left, right = left - 8, right + 8
    assembly = facts.get("parts.assembly")
    made = in_one_row(assembly["joints"]) if isinstance(assembly, Mapping) else []
    pieces = (pieces_of(made) or []) if made else []
    bodies = pieces[1:-1]
    if not bodies:
        css = "strip__unknown" if not made else "strip__body"
        sheet.box(left + 6, _AXIS - 28, right - left - 12, 56, css, width=THIN)
        if not made:
            return
    long = sum(one.long for one in bodies) or 1.0
    widest = max((one.widest for one in bodies), default=1.0)
    unit = min((right - left) / long, _MOST / widest)
    x = (left + right - long * unit) / 2
    kinds = [one["kind"] for one in made]
    done = state == "done"
    for piece, kind in zip(bodies, kinds, strict=False):
        sheet.box(x, _AXIS - piece.widest * unit / 2, piece.long * unit,
                  piece.widest * unit, "strip__body", width=BOLD if done else THIN)  # fmt: skip
        sheet.hatch(
            x, _AXIS - piece.widest * unit / 2, piece.long * unit, piece.widest * unit, gap=7
        )
        _joint_mark(sheet, kind, x, piece.widest * unit)
        x += piece.long * unit
    if kinds:
        _joint_mark(sheet, kinds[-1], x, widest * unit * 0.8)


def _joint_mark(sheet: Sheet, kind: str, x: float, across: float) -> None:
    """Cement as a violet band, a thread as slanted crests, ridges as teeth."""
    top, foot = _AXIS - across / 2, _AXIS + across / 2
    if kind in made_by("cement"):
        sheet.box(x - 3, top, 6, across, "strip__cement", width=HELP)
    elif kind in made_by("thread"):
        for crest in range(4):
            sheet.line(x - 6 + 4 * crest, top, x - 9 + 4 * crest, foot, "ink", width=HELP)
    else:
        teeth = [(x - 8 + 4 * n, top + (4 if n % 2 else 0)) for n in range(5)]
        sheet.trace(teeth, "ink", width=THIN)
        sheet.trace([(a, 2 * _AXIS - b) for a, b in teeth], "ink", width=THIN)


#: Where a leak is drawn. [units]
_LEAK_X = 192.0


def _leak(sheet: Sheet, facts: Facts) -> None:
    unmended = facts.get("leak.cause") and facts.get("leak.mended_at") is None
    leaks = facts.get("test.verdict") == "leaks" or (
        unmended and facts.get("test.verdict") != "holds"
    )
    if leaks:
        for drop in (0, 1, 2):
            sheet.path(
                f"M{_LEAK_X + 7 * drop:.0f} {66 + 5 * (drop % 2)}q-4 6 0 9q4 -3 0 -9z",
                "strip__water",
                width=HELP,
            )


def _gauge(sheet: Sheet, state: str, verdict: str) -> None:
    """The gauge of the pressure test, with the shape of its verdict."""
    x = (ZONES["test"][1] + WIDTH) / 2
    css = "strip__gauge" if state != "later" or verdict else "strip__unknown"
    sheet.line(ZONES["test"][1], _AXIS, x, _AXIS, "axis", width=HELP)
    sheet.circle(x, _AXIS, 27, css, width=THIN)
    for tick in range(5):
        a, b = _TICKS[tick]
        sheet.line(x + 21 * a, _AXIS - 21 * b, x + 26 * a, _AXIS - 26 * b, "ink", width=HELP)
    if verdict == "holds":
        points = [(x - 11, _AXIS), (x - 3, _AXIS + 9), (x + 12, _AXIS - 10)]
        sheet.trace(points, "strip__holds", width=5)
    elif verdict == "leaks":
        sheet.line(x - 9, _AXIS - 9, x + 9, _AXIS + 9, "strip__stop", width=5)
        sheet.line(x - 9, _AXIS + 9, x + 9, _AXIS - 9, "strip__stop", width=5)
    elif verdict == "repeat":
        sheet.shape([(x, _AXIS - 11), (x + 12, _AXIS + 10), (x - 12, _AXIS + 10)], "strip__look")
    else:
        sheet.line(x, _AXIS, x - 13, _AXIS + 9, "ink", width=THIN)


#: Directions of the gauge's ticks, from lower left over the top to lower right.
_TICKS = ((-0.82, -0.57), (-0.87, 0.5), (0.0, 1.0), (0.87, 0.5), (0.82, -0.57))
