"""The most that one part of a line may see in a test, at the temperature of the day."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.heat import heat_factor
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.strength import pipe_pressure_rating
from fieldkit.engine.words import Text, say
from fieldkit.tables.fittings import is_tube_joint, joints
from fieldkit.tables.joining import clamp_rules
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import Pipe, ips_pvc
from fieldkit.tables.proving_rules import proving_value

#: Moulded pieces, as strong as the sockets in them.
MOULDED_KINDS = frozenset({"tee", "elbow", "coupling", "fitting"})
#: Kinds that are pipe or tubing themselves.
PIPE_KINDS = frozenset({"pipe", "tubing"})
#: Parts with no figure of ours: the rating printed on them must be given.
RATED_KINDS = frozenset({"valve", "regulator", "filter", "emitter", "gauge", "union"})


def part_kinds() -> tuple[str, ...]:
    """Every kind of part that a test plan understands."""
    return (*sorted(PIPE_KINDS), *joints(), "gasket", *sorted(MOULDED_KINDS), *sorted(RATED_KINDS))


@dataclass(frozen=True, slots=True)
class LinePart:
    """One part of the line: ``pipe`` is the row it is or joins, None where not told."""

    kind: str
    pipe: Pipe | None = None
    size: str = ""
    height_ft: float = 0.0
    length_ft: float | None = None
    clamps: int | None = None
    rating_psi: float | None = None
    field: str = "parts[0]"

    @property
    def name(self) -> Text:
        """The part in words: plain ones first, the kind as asked for in brackets."""
        if self.kind in PIPE_KINDS and self.pipe is not None:
            return say("{pipe}", pipe=self.pipe.name)
        joint = joints().get(self.kind)
        kind = self.kind.replace("_", " ")
        name = kind if joint is None else say("{plain} ({kind})", plain=joint.name, kind=kind)
        if self.pipe is not None:
            return say("{name}, {pipe}", name=name, pipe=self.pipe.name)
        if self.size:
            return say("{name}, {size} in", name=name, size=self.size.removesuffix(" in"))
        return say("{name}", name=name)


@dataclass(frozen=True, slots=True)
class Ceiling:
    """What a part may see: ``rating_psi`` cool, times share of the joint, times heat."""

    part: Text
    kind: str
    rating_psi: float
    joint_factor: float
    heat_factor: float
    ceiling_psi: float
    at_gauge_psi: float
    source: str
    status: str


def pipe_rating_psi(pipe: Pipe) -> float:
    """Rating of a pipe when cool: what the class is sold for, or the wall's own if less. [psi]

    Raises
    ------
    Problem
        The table holds neither a rating nor a design stress for it.

    Examples
    --------
    >>> from fieldkit.engine.pipes import rigid_pvc
    >>> round(pipe_rating_psi(rigid_pvc("2", "Sch 40")))
    277
    """
    stress = materials()[pipe.material].design_stress_psi
    found = [] if pipe.rating_psi is None else [pipe.rating_psi]
    if stress is not None and pipe.wall_in is not None and pipe.material != "drip":
        found.append(pipe_pressure_rating(pipe.od_in, pipe.wall_in, stress))
    if not found:
        raise Problem(
            "rating",
            pipe.name,
            say("We have no pressure rating for {pipe}.", pipe=pipe.name),
            say("Give the rating printed on it, such as 100 psi."),
        )
    return min(found)


def equal_pipe(pipe: Pipe) -> Pipe:
    """The pipe whose moulded fittings are used with this one.

    Fittings come as Sch 40 and Sch 80. Thinner classes of the same outside (SDR) are joined
    with Sch 40 fittings; pipe of any other outside with fittings of its own class.

    Examples
    --------
    >>> from fieldkit.engine.pipes import rigid_pvc
    >>> equal_pipe(rigid_pvc("1", "SDR 21")).pipe_class
    'Sch 40'
    """
    if pipe.family != "ips-pvc" or pipe.pipe_class == "Sch 80":
        return pipe
    return ips_pvc().get((pipe.nominal, "Sch 40"), pipe)


def part_ceiling(part: LinePart, temperature_f: float, gauge_height_ft: float) -> Ceiling:
    """The most a part may see, there and as the gauge then reads.

    A part at height z sees the gauge's pressure and 0.433 psi for each foot it lies below, so
    the gauge may show ceiling − 0.433 (z_gauge − z).

    Parameters
    ----------
    part : LinePart
        The part.
    temperature_f : float
        Hottest temperature of wall or water. [°F]
    gauge_height_ft : float
        Height of the gauge, from the same level as the parts. [ft]

    Returns
    -------
    Ceiling
        With the source of its figure. [psi]

    Raises
    ------
    Problem
        Nothing is known of the strength of the part.
    OutOfRange
        It is hotter than the heat table.

    Source
    ------
    nashua-clause for the height; fitting-share-notes for sockets and threads; joints.csv and
    pipes.csv for the rest. Status: secondary.
    """
    rating, joint_factor, heat, source, status = _strength(part, temperature_f)
    row = heat_factor(heat, temperature_f)
    ceiling = rating * joint_factor * row.factor
    return Ceiling(
        part=part.name,
        kind=part.kind,
        rating_psi=rating,
        joint_factor=joint_factor,
        heat_factor=row.factor,
        ceiling_psi=ceiling,
        at_gauge_psi=ceiling - proving_value("psi_per_ft") * (gauge_height_ft - part.height_ft),
        source=source,
        status=status,
    )


_Strength = tuple[float, float, str, str, str]


def _strength(part: LinePart, temperature_f: float) -> _Strength:
    """Cool rating, joint factor, heat series, source and status."""
    pipe = part.pipe
    # Joints of PVC, and tubing of unknown grade, lose strength as PVC does: the safe side.
    heat = "pvc" if pipe is None else materials()[pipe.material].heat or "pvc"
    if part.rating_psi is not None:
        require(part.rating_psi, f"{part.field}.rating", above=0.0, unit="psi")
        share = thread_share(temperature_f) if part.kind == "npt" else 1.0
        return part.rating_psi, share, heat, "trade", _PRACTICE
    if part.kind == "tubing" and (pipe is None or pipe.material == "drip"):
        # No rating is printed on drip tubing: no more than its best clamped joint holds.
        return _ceiling_of("barb_clamped")
    if is_tube_joint(part.kind):
        return _tube_joint(part, heat)
    if pipe is not None and part.kind not in RATED_KINDS:
        try:
            return _on_pipe(part.kind, pipe, heat, temperature_f)
        except Problem as problem:
            problem.field = f"{part.field}.rating"
            raise
    if part.kind in joints():
        rating, _, heat, source, status = _ceiling_of(part.kind)
        dead = part.kind == "npt" and thread_share(temperature_f) == 0
        return rating, 0.0 if dead else 1.0, heat, source, status
    raise Problem(
        f"{part.field}.rating" if part.kind in RATED_KINDS else f"{part.field}.class",
        part.kind,
        say("We cannot tell what {part} can bear.", part=part.name),
        say("Give its size and class, or the rating printed on it, such as 150 psi."),
    )


_PRACTICE = "common practice, no source"


def _ceiling_of(kind: str) -> _Strength:
    """The usual ceiling of a joint of which no more is known."""
    row = joints()[kind]
    return row.ceiling_psi, 1.0, "pvc", row.source, row.status


def _on_pipe(kind: str, pipe: Pipe, heat: str, temperature_f: float) -> _Strength:
    """A part of known size and class: the pipe, or the share of it that a fitting leaves."""
    own = pipe_rating_psi(pipe)
    joint = joints().get("solvent_socket" if kind in MOULDED_KINDS else kind)
    if joint is None:  # the pipe, or a gasketed bell of it
        return own, 1.0, heat, pipe.source, pipe.status
    if joint.pipe_share is None:
        rating, share, series, source, status = _ceiling_of(kind)
        return min(rating, own), share, series, source, status
    equal = pipe_rating_psi(equal_pipe(pipe))
    if kind == "npt":
        share = thread_share(temperature_f)
        return min(own, equal), share, heat, joint.share_source, "secondary"
    if own < equal * joint.pipe_share:
        return own, 1.0, heat, pipe.source, pipe.status
    return equal, joint.pipe_share, heat, joint.share_source, "secondary"


def thread_share(temperature_f: float) -> float:
    """Share of a PVC part's rating that its tapered thread leaves: none above 110 °F.

    Parameters
    ----------
    temperature_f : float
        Temperature of wall or water. [°F]

    Returns
    -------
    float
        Half, or nothing. [1]

    Source
    ------
    thread-derate-page, fitting-share-notes. Status: secondary.

    Examples
    --------
    >>> thread_share(110.0), thread_share(111.0)
    (0.5, 0.0)
    """
    hot = temperature_f > proving_value("thread_limit_f")
    return 0.0 if hot else joints()["npt"].pipe_share or 0.0


def _tube_joint(part: LinePart, heat: str) -> _Strength:
    """Thin tubing by the joint's own ceiling; thick pipe sized by its bore by its clamps."""
    pipe, joint = part.pipe, joints()[part.kind]
    if pipe is None or pipe.material == "drip":
        return _ceiling_of(part.kind)
    rating = pipe_rating_psi(pipe)
    if part.kind == "barb_bare":
        return 0.0, 1.0, heat, "trade", _PRACTICE  # thick pipe is never left without a clamp
    if part.kind != "barb_clamped":
        return min(joint.ceiling_psi, rating), 1.0, heat, joint.source, joint.status
    clamps = 1 if part.clamps is None else part.clamps
    held = max(
        (r.up_to_psi for r in clamp_rules() if r.tube == "thick" and r.clamps <= clamps),
        default=0.0,
    )
    return min(held, rating), 1.0, heat, "trade", _PRACTICE
