"""Reads requests about flow, surge and holding as people and programs write them down."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fieldkit.engine.hydraulics.closing import valves
from fieldkit.engine.hydraulics.hold import HeldJoint
from fieldkit.engine.hydraulics.march import Layout, Pipe, with_barbs
from fieldkit.engine.hydraulics.surge import wave_speed_ft_s
from fieldkit.engine.line_pipe import least_bore_in, line_pipe, mean_bore_in, third_size
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import Line, worked
from fieldkit.flows.trade_names import JOINTS, by_name, key_of, read_material, read_word
from fieldkit.tables.fittings import joints
from fieldkit.tables.hydraulics import hydraulics
from fieldkit.tables.materials import materials
from fieldkit.tables.other_kinds import water_pipes
from fieldkit.tables.pipes import Pipe as Row
from fieldkit.typed import answers
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request

M_PER_IN = 0.0254

_METHODS = {
    "hazen_williams": "hw h_w hazen",
    "darcy": "darcy_weisbach dw d_w weisbach",
}
_BARB = by_name({"large": "big", "standard": "usual medium", "small": "", "none": "no"})
_VALVE = by_name(
    {
        "gate": "gate_valve hand_wheel wheel slow",
        "ball": "ball_valve quarter_turn plug plug_cock quick",
        "solenoid": "automatic diaphragm automatic_valve solenoid_valve zone_valve",
    }
)
_METHOD, _JOINT = by_name(_METHODS), by_name(JOINTS)


def assumed(row_id: str, name: str = "") -> Line:
    """The line of working that owns up to a default of hydraulics.csv."""
    row = hydraulics()[row_id]
    return Line(
        say("assumed: {what}", what=name or row.what),
        "not given",
        {},
        row.value,
        "" if row.unit == "1" else row.unit,
        row.source,
        row.status,
    )


def usual(row_id: str, owned: list[Line]) -> float:
    """The value of a default of hydraulics.csv, owned up to."""
    owned.append(assumed(row_id))
    return hydraulics()[row_id].value


def read_method(request: Request, owned: list[Line], otherwise: str) -> str:
    """Which friction formula rules; a C without a method means Hazen–Williams."""
    method = read_word(request, "method", _METHOD, _METHODS)
    if method is not None:
        return method
    if request.has("c"):
        otherwise = "hazen_williams"
    owned.append(worked("assumed_method", otherwise))
    return otherwise


def read_c(request: Request, material: str | None, owned: list[Line]) -> float:
    """Hazen–Williams C, by material where it is not given."""
    c = request.quantity("c", "", at_least=60.0, at_most=160.0)
    if c is not None:
        return c
    return usual("c_pvc" if material in {"pvc", "cpvc"} else "c_pe", owned)


def read_temperature(request: Request, owned: list[Line]) -> float:
    """Water temperature."""
    given = request.quantity("temperature", "°F")
    return usual("temperature_default", owned) if given is None else given


def read_roughness_m(request: Request, owned: list[Line]) -> float:
    """Wall roughness in metres; a bare number is mm."""
    given = request.quantity("roughness", "mm", at_least=0.0)
    return usual("roughness_plastic", owned) if given is None else given / 1000.0


def read_share(request: Request, key: str, otherwise: str, owned: list[Line]) -> float:
    """A share as ``20 %``, ``0.2`` or ``20``: a bare number from 1 on is per cent."""
    given = request.raw(key)
    if given is None or given == "":
        share = usual(otherwise, owned)
        return share / 100.0 if hydraulics()[otherwise].unit == "%" else share
    value = answers.read_quantity(given, "", field=request.field(key), at_least=0.0)
    return value / 100.0 if value >= 1.0 and not _has_percent(given) else value


def _has_percent(given: object) -> bool:
    return isinstance(given, str) and bool(re.search(r"%|percent|per cent|pct", given.casefold()))


def read_slope(request: Request, key: str = "slope") -> float:
    """Rise along the line, positive uphill: ``2 %``, ``2 ft per 100 ft``, ``0.02``, ``2``.

    A bare number from 1 on is per cent, one up to 0.1 is feet a foot; between they could be
    either, and are asked again.
    """
    given = request.raw(key)
    if given is None or given == "":
        return 0.0
    field = request.field(key)
    if isinstance(given, str):
        halves = re.split(r" per |/| in (?=\d)", " ".join(given[:200].split())[:80])
        if len(halves) == 2 and "cent" not in halves[1] and any(c.isdigit() for c in halves[1]):
            rise, run = (answers.read_quantity(half, "ft", field=field) for half in halves)
            if run <= 0.0:
                raise _unclear_slope(field, given)
            return rise / run
    value = answers.read_quantity(given, "", field=field)
    if _has_percent(given) or abs(value) <= 0.1:
        return value
    if abs(value) < 1.0:
        raise _unclear_slope(field, given)
    return value / 100.0


def _unclear_slope(field: str, given: object) -> Problem:
    return Problem(
        field,
        kept(given),
        say("“{given}” can be read as per cent or as feet a foot.", given=shown(given)),
        say("Write it with its unit: {example}.", example="2 % or 2 ft per 100 ft"),
    )


@dataclass(frozen=True, slots=True)
class Sizes:
    """What is known of one pipe: outside, wall, bore, material, and its row where it has one.

    A bore by name is the mean one; ``bore_least_in`` is then the smallest that is legal.
    """

    od_in: float | None
    wall_in: float | None
    bore_in: float | None
    material: str | None
    row: Row | None
    bore_least_in: float | None = None


def read_sizes(request: Request, *, side: str = "") -> Sizes:
    """A pipe by its sizes, or by its trade size and class.

    ``side`` tells what a trade size alone means: ``rigid`` is Sch 40 PVC, ``tube`` is drip
    tubing; else the class must be given.
    """
    material = read_material(request)
    od, wall, bore = (request.quantity(key, "in", at_least=0.0) for key in ("od", "wall", "bore"))
    ratio = request.quantity("dr", "", at_least=3.0, at_most=100.0)
    nominal = request.nominal("nominal") or request.nominal("size")
    pipe_class = request.pipe_class("class")
    row, least = None, None
    if nominal is not None and (bore is None or od is None):
        row = _row_of(material, nominal, pipe_class, side, _path(request))
    if row is not None:
        material = material or row.material
        od = row.od_in if od is None else od
        if bore is None and wall in {None, row.wall_in}:
            wall, bore, least = row.wall_in, mean_bore_in(row), least_bore_in(row)
    if od is not None and wall is None and ratio is not None:
        wall = od / ratio
    od, wall, bore = third_size(od, wall, bore)
    if row is None and od is not None and bore is not None:
        row = _thick_row(od, bore)
    return Sizes(od, wall, bore, material, row, least)


def _path(request: Request) -> str:
    return request.field("x").removesuffix(".x").removesuffix("x") or "pipe"


def _row_of(
    material: str | None, nominal: str, pipe_class: str | None, side: str, path: str
) -> Row | None:
    if material is None:
        flexible = (pipe_class or "").startswith(("SIDR", "DR"))
        material = "pe" if flexible else "drip" if side == "tube" and not pipe_class else "pvc"
    if side == "rigid" and material == "pvc" and pipe_class is None:
        pipe_class = "Sch 40"
    try:
        return line_pipe(material, nominal, pipe_class, path)
    except Problem:
        if side == "tube" and pipe_class is None:
            return None  # tubing of an odd size still has its joint's ceiling
        raise


def _thick_row(od_in: float, bore_in: float) -> Row | None:
    """Pipe of higher-density polyethylene with that outside and bore, which is held by clamps."""
    near = [
        row
        for row in water_pipes()
        if row.material == "pe"
        and row.bore_in is not None
        and abs(row.od_in - od_in) <= 0.006
        and abs(row.bore_in - bore_in) <= 0.006
    ]
    return max(near, key=lambda row: row.share, default=None)


def read_bore(request: Request) -> tuple[float, Sizes]:
    """The bore of the pipe that the request itself, or its ``pipe``, tells of."""
    here = read_sizes(request)
    if here.bore_in is None:
        nested = request.child("pipe") if request.has("pipe") else request.child("tubing")
        here = read_sizes(nested)
    if here.bore_in is None:
        raise request.missing("bore", "0.600 in")
    return here.bore_in, here


def read_line_pipe(request: Request, owned: list[Line]) -> Pipe:
    """The pipe of a lateral or submain, with its slope."""
    bore, sizes = read_bore(request)
    method = read_method(request, owned, "hazen_williams")
    return Pipe(
        bore_in=bore,
        method=method,
        c=read_c(request, sizes.material, owned),
        roughness_m=read_roughness_m(request, owned) if method == "darcy" else 1.5e-6,
        temperature_f=read_temperature(request, owned),
        rise=read_slope(request),
    )


def read_barbs(request: Request, pipe: Pipe, owned: list[Line]) -> Pipe:
    """The pipe of a lateral with the losses of its barbs: told by size, length or K, or usual."""
    given = request.raw("emitter_barb")
    outlet_k = request.quantity("emitter_k", "", at_least=0.0, at_most=100.0)
    inlet_k = request.quantity("inlet_k", "", at_least=0.0, at_most=100.0)
    size = _BARB.get(key_of(given)) if isinstance(given, str) else None
    told = given not in (None, "")
    usual = with_barbs(pipe, size or ("none" if told or outlet_k is not None else "standard"))
    length = usual.outlet_ft
    if told and size is None:
        length = answers.read_quantity(given, "ft", field=request.field("emitter_barb"))
    if not told and outlet_k is None:
        owned.append(assumed("barb_standard_scale", say("a standard barb at each emitter")))
    if inlet_k is None:
        owned.append(assumed("inlet_barb_share"))
    return replace(
        usual,
        outlet_ft=length,
        outlet_k=outlet_k or 0.0,
        inlet_k=usual.inlet_k if inlet_k is None else inlet_k,
    )


def read_layout(request: Request) -> Layout:
    """Spacing, and the first outlet's distance where it is not a full spacing."""
    spacing = request.need_quantity("spacing", "ft", at_least=0.01)
    first = request.quantity("first", "ft", at_least=0.0)
    return Layout(spacing, spacing if first is None else first)


def read_wave_pipe(request: Request, owned: list[Line]) -> tuple[float, float, float]:
    """Outside, wall and quick modulus of the pipe that a wave runs along."""
    sizes = read_sizes(request)
    if sizes.od_in is None:
        raise request.missing("od", "1.315 in")
    if sizes.wall_in is None:
        raise request.missing("wall", "0.133 in")
    modulus = request.quantity("modulus", "psi", at_least=1.0)
    if modulus is not None:
        return sizes.od_in, sizes.wall_in, modulus
    if sizes.material is None:
        raise request.missing("material", "pvc")
    row = materials()[sizes.material]
    if row.dynamic_modulus_psi is None:
        raise Problem(
            request.field("material"),
            sizes.material,
            say("We have no modulus for a quick load on {material}.", material=row.name),
            say("Give modulus, such as 400000 psi."),
        )
    owned.append(
        Line(
            say("assumed: modulus of {material} for a quick load", material=row.name),
            "assumed: by material",
            {},
            row.dynamic_modulus_psi,
            "psi",
            row.source,
            row.status,
        )
    )
    return sizes.od_in, sizes.wall_in, row.dynamic_modulus_psi


def read_valve(request: Request) -> str | None:
    """The valve that shuts, by its closing curve; None where it was not told."""
    return read_word(request, "valve", _VALVE, valves())


def read_onward(request: Request, owned: list[Line]) -> tuple[tuple[float, float], ...]:
    """Bore and wave speed of each pipe beyond a joint."""
    beyond = []
    for one in request.children("into", at_most=10):
        od, wall, modulus = read_wave_pipe(one, owned)
        beyond.append((od - 2 * wall, wave_speed_ft_s(od, wall, modulus)))
    return tuple(beyond)


# ── Joints to be held ────────────────────────────────────────────────────────────────────────


def read_joints(request: Request) -> tuple[HeldJoint, ...]:
    """The joints of ``assembly`` or of ``joint``, with what sizes are known.

    A joint's own sizes come first, then those beside it in the request, then ``tubing`` for a
    joint that holds tubing and ``pipe`` for any other.
    """
    made = _joint_requests(request)
    kinds = [_read_kind(one) for one in made]
    # As ``transition`` names it, too, so that its request and answer can be sent on.
    rigid_key = "pvc" if request.has("pvc") else "pipe"
    rigid = read_sizes(request.child(rigid_key), side="rigid")
    tube = read_sizes(request.child("tubing"), side="tube")
    tubular = [joints()[kind].end_y == "tube" for kind in kinds]
    beside = read_sizes(request, side="tube" if all(tubular) else "rigid")
    clamps = request.whole("clamps", at_least=0, at_most=4) if request.has("clamps") else None
    bend = request.quantity("bend", "", at_least=0.0, at_most=180.0)
    found = []
    for one, kind, holds_tube in zip(made, kinds, tubular, strict=True):
        own = _own_sizes(one, holds_tube=holds_tube)
        nearest = (own, tube if holds_tube else rigid, beside)
        sizes = next((sizes for sizes in nearest if _known(sizes)), own)
        own_bend = one.quantity("bend", "", at_least=0.0, at_most=180.0)
        found.append(
            HeldJoint(
                kind=kind,
                pipe=_row_for(sizes, tubular=holds_tube),
                seal_in=one.quantity("diameter", "in", at_least=0.01) or _seal(kind, sizes),
                clamps=one.whole("clamps", at_least=0, at_most=4) if one.has("clamps") else clamps,
                rating_psi=one.quantity("rating", "psi", at_least=0.1),
                bend_deg=bend if own_bend is None else own_bend,
                field=_path(one),
            )
        )
    return tuple(found)


def read_surge(request: Request) -> float | None:
    """Surge as a pressure, or as the whole answer of ``surge``; None where it is not known."""
    given = request.raw("surge")
    if isinstance(given, Mapping):
        answer = request.inside(given, request.field("surge"))
        return answer.need_quantity("surge_psi", "psi", at_least=0.0)
    return request.quantity("surge", "psi", at_least=0.0)


def _own_sizes(request: Request, *, holds_tube: bool) -> Sizes:
    """Sizes written in the joint itself. The size that a chosen assembly prints on a tube end
    is the fitting's, not the tubing's, and is left out."""
    if holds_tube and request.has("between"):
        request.raw("nominal")
        return Sizes(None, None, None, None, None)
    side, keys = ("tube", ("tubing",)) if holds_tube else ("rigid", ("pvc", "pipe"))
    named = next((key for key in keys if request.has(key)), None)
    return read_sizes(request if named is None else request.child(named), side=side)


def _known(sizes: Sizes) -> bool:
    return sizes.od_in is not None or sizes.bore_in is not None


def _row_for(sizes: Sizes, *, tubular: bool) -> Row | None:
    row = sizes.row
    return None if row is None or row.rigid == tubular else row


def _seal(kind: str, sizes: Sizes) -> float | None:
    """Where the pressure pushes: in the tube's bore on a barb, round the outside elsewhere."""
    if joints()[kind].seals == "bore":
        return sizes.bore_in
    return sizes.od_in if sizes.od_in is not None else sizes.bore_in


def _joint_requests(request: Request) -> tuple[Request, ...]:
    """Every joint of the request as an object of its own, whatever way it was written."""
    for key in ("assembly", "joint", "joints"):
        given = request.raw(key)
        if not given:
            continue
        if isinstance(given, Mapping) and "joints" in given:
            given = given["joints"]
        if isinstance(given, str | Mapping):
            return (_as_joint(request, given, request.field(key)),)
        if not isinstance(given, Sequence) or not 1 <= len(given) <= 50:
            break
        path = request.field(key)
        return tuple(_as_joint(request, one, f"{path}[{n}]") for n, one in enumerate(given))
    raise request.missing("joint", "barb_clamped")


def _as_joint(request: Request, given: object, path: str) -> Request:
    return request.inside({"kind": given} if isinstance(given, str) else given, path)


def _read_kind(request: Request) -> str:
    given = request.raw("kind")
    request.raw("between")
    request.raw("name")
    if given is None or given == "":
        raise request.missing("kind", "barb_clamped")
    key = key_of(given) if isinstance(given, str) else ""
    for name in (key, key.removesuffix("_joint")):
        if name in _JOINT:
            return _JOINT[name]
    raise Problem(
        request.field("kind"),
        kept(given),
        say("“{given}” is not a kind of joint listed here.", given=shown(given)),
        say("Choose one of: {kinds}.", kinds=", ".join(joints())),
    )
