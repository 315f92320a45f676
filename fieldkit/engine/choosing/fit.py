"""Which ends mate, what joint they make, and why not, with the numbers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.engine.strength import pipe_pressure_rating
from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.fittings import End, FitWindow, fit_windows, joints
from fieldkit.tables.materials import materials
from fieldkit.tables.pipes import ips_pvc, pipes

#: Wall from which a tube counts as thick pipe sized by its bore: the 0.060 in floor of that
#: pipe, less the 0.002 in that two caliper readings of a soft tube may be off. [in]
THICK_WALL_IN = 0.058

#: Most that a barb bears on thick pipe with one clamp and with two: the pipe's own rating may
#: allow more with two, but it is not asked here. [psi]
THICK_ONE_CLAMP_PSI = 80.0
THICK_TWO_CLAMPS_PSI = 100.0

#: A second clamp takes as long as the first one does over a bare barb. [min]
CLAMP_MINUTES = 1.0

#: Half-inch tubing as sold: what an end must span to take any of it. [in]
HALF_INCH_OD_IN = (0.620, 0.710)


#: Families of ``pipes.csv`` that are tubing of copper tube size (CTS). They are stiff and take
#: fittings of their own, though one of them nearly fills the ring for 0.620 in tubing.
COPPER_SIZED = ("cts-pe", "cts-pex")


@dataclass(frozen=True, slots=True)
class Tube:
    """The tubing as measured.

    ``half_inch``: half-inch tubing, which of them not known. ``family``: as ``pipes.csv`` has
    it, empty where the tubing was not named.
    """

    od_in: float | None
    bore_in: float | None
    half_inch: bool = False
    family: str = ""

    @property
    def wall_in(self) -> float | None:
        """Wall, where both diameters are known. [in]"""
        if self.od_in is None or self.bore_in is None:
            return None
        return (self.od_in - self.bore_in) / 2

    @property
    def thick(self) -> bool:
        """Whether it is known to be thick-walled. A thousandth of rounding is forgiven."""
        return self.wall_in is not None and self.wall_in >= THICK_WALL_IN - 1e-9


@dataclass(frozen=True, slots=True)
class TubeJoint:
    """One way to hold the tube on an end: with or without clamps."""

    kind: str
    minutes: float
    ceiling_psi: float
    clamp_kind: str = ""
    clamps: int = 0

    @property
    def undone_whole(self) -> bool:
        """Whether the part it holds is kept when it is undone: nothing is used up."""
        return joints()[self.kind].reuse in {"yes", "cut back"} and self.clamp_kind != "pinch"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why two ends do not mate."""

    why: Text


@cache
def joint_kinds() -> dict[frozenset[str], str]:
    """The joint that each pair of rigid end kinds makes; pairs not listed never mate."""
    return {
        frozenset((row.end_x, row.end_y)): row.id
        for row in joints().values()
        if row.end_y != "tube"
    }


def mate(end: End, other: End) -> str | Refusal:
    """The joint that two rigid ends make, or why they do not mate.

    Parameters
    ----------
    end, other : End
        Two ends, in either order; a plain end of rigid pipe is ``End("pipe", nominal)``.

    Returns
    -------
    str or Refusal
        Id of the joint in ``joints.csv``, or a sentence with the numbers.

    Source
    ------
    trade. Status: common practice, no source.

    Examples
    --------
    >>> mate(End("pipe", "1/2"), End("socket", "1/2"))
    'solvent_socket'
    >>> mate(End("pipe", "3/4"), End("spigot", "3/4")).why
    'A spigot goes in a socket only, never over or beside a bare pipe end.'
    """
    kinds = frozenset((end.kind, other.kind))
    joint = joint_kinds().get(kinds)
    if joint is None:
        return Refusal(_never(kinds))
    if end.size != other.size:
        return Refusal(_size_differs(end, other))
    return joint


def _never(kinds: frozenset[str]) -> Text:
    """The trade's reason for a pair of kinds that never mate."""
    if kinds == {"pipe", "spigot"}:
        return say("A spigot goes in a socket only, never over or beside a bare pipe end.")
    if kinds == {"socket"}:
        return say("Two sockets face each other: put a short piece of pipe between them.")
    if kinds & {"hose-female", "hose-male"} and kinds & {"npt-female", "npt-male"}:
        return say(
            "Hose thread has 11.5 turns an inch and no taper; pipe thread has 14 and a taper."
        )
    if kinds & {"pipe"} and any(row.pipe_whole and row.end_x in kinds for row in joints().values()):
        return say("It is clamped round uncut pipe only, never over an open end.")
    if "pipe" in kinds and kinds & {"npt-female", "npt-male"}:
        return say("Plain pipe has no thread, and this pipe must not be given one.")
    if "spigot" in kinds and "grip-pvc" in kinds:
        return say("A molded spigot is too short for a grip end: the teeth need plain pipe.")
    return say("These two kinds of end are not made for each other.")


@cache
def pipe_od_in(nominal: str) -> float | None:
    """Outside diameter of rigid pipe of a trade size, or None where no such size is listed.

    Parameters
    ----------
    nominal : str
        Trade size, such as ``1/2``.

    Returns
    -------
    float or None
        Outside diameter. [in]

    Source
    ------
    astm-d1785. Status: secondary.

    Examples
    --------
    >>> pipe_od_in("1/2")
    0.84
    """
    return next((row.od_in for (size, _), row in ips_pvc().items() if size == nominal), None)


def _size_differs(end: End, other: End) -> Text:
    pipe, part = (end, other) if end.kind in {"pipe", "run"} else (other, end)
    pipe_od, part_od = pipe_od_in(pipe.size), pipe_od_in(part.size)
    if pipe.kind in {"pipe", "run"} and pipe_od is not None and part_od is not None:
        return say(
            "It takes {takes} in pipe, {takes_od} outside; this is {given} in, {given_od}.",
            takes=part.size,
            takes_od=Figure(part_od, "in", 3),
            given=pipe.size,
            given_od=Figure(pipe_od, "in", 3),
        )
    return say("One end is {a} in and the other {b} in.", a=end.size, b=other.size)


def socket_takes_outside(nominal: str, od_in: float) -> Refusal | None:
    """Whether pipe of a measured outside is the iron-pipe size that sockets of ``nominal`` take.

    Parameters
    ----------
    nominal : str
        Trade size of the socket.
    od_in : float
        Mean outside of the pipe, above 0. [in]

    Returns
    -------
    Refusal or None
        None when it is within the pipe's tolerance and that much again for the reading.

    Source
    ------
    astm-d1785 for outside and tolerance; fieldkit-rule for the reading. Status: secondary.

    Examples
    --------
    >>> socket_takes_outside("1/2", 0.842) is None
    True
    >>> socket_takes_outside("1/2", 0.625).why
    'The pipe is 0.625 in outside, 0.215 in under the 0.840 in of 1/2 in iron-pipe size.'
    """
    row = next((row for (size, _), row in ips_pvc().items() if size == nominal), None)
    if row is None or abs(od_in - row.od_in) <= 2 * max(row.od_minus_in, row.od_plus_in) + 1e-9:
        return None
    words = (
        "The pipe is {given} outside, {off} under the {is_od} of {nominal} in iron-pipe size."
        if od_in < row.od_in
        else "The pipe is {given} outside, {off} over the {is_od} of {nominal} in iron-pipe size."
    )
    return Refusal(
        say(
            words,
            given=Figure(od_in, "in", 3),
            off=Figure(abs(od_in - row.od_in), "in", 3),
            is_od=Figure(row.od_in, "in", 3),
            nominal=nominal,
        )
    )


def hold_tube(end: End, tube: Tube) -> tuple[TubeJoint, ...] | Refusal:
    """The ways an end holds the tubing, or why it does not.

    Parameters
    ----------
    end : End
        A tube end that has a row in ``fit_windows.csv``.
    tube : Tube
        The tubing, at 73 °F; a diameter that was not measured is None. [in]

    Returns
    -------
    tuple of TubeJoint, or Refusal
        The least trouble first, or a sentence with the numbers.

    Source
    ------
    The row of ``fit_windows.csv``; clamps by ``trade``. Status: common practice, no source.

    Examples
    --------
    >>> hold_tube(End("ring", "0.700"), Tube(0.680, 0.580)).why
    'A ring for 0.700 in refuses a 0.680 in tube: it takes 0.692 to 0.706 in outside.'
    >>> [way.kind for way in hold_tube(End("ring", "0.700"), Tube(0.700, None))]
    ['ring']
    """
    window = fit_windows()[end]
    if tube.family in COPPER_SIZED:
        return Refusal(_copper_sized(window))
    if tube.half_inch:
        return _any_half_inch(end, window)
    given = tube.od_in if window.measure == "OD" else tube.bore_in
    if given is None:
        return Refusal(_measure_first(window))
    if not _within(given, window.low_in, window.high_in):
        return Refusal(_outside_window(window, given))
    if tube.bore_in is not None and round(tube.bore_in, 3) < (window.bore_low_in or 0.0):
        return Refusal(_bore_under_barb(window, tube.bore_in))
    if end.kind == "barb":
        return _barb_ways(window, tube)
    if end.kind == "ring" and (doubt := _doubt_of_ring(window, tube, given)) is not None:
        return Refusal(doubt)
    return (_plain_way(end.kind),)


def _within(given_in: float, low_in: float, high_in: float) -> bool:
    """Whether a reading lies in a window, to the thousandth that a caliper shows."""
    return low_in <= round(given_in, 3) <= high_in


def _doubt_of_ring(window: FitWindow, tube: Tube, od_in: float) -> Text | None:
    """Why the outside alone does not tell that the tube is the one for this ring, or None."""
    if rivals := _rings_that_also_take(od_in, window):
        return _which_ring(window, rivals, tube)
    if not tube.family and (bores := _copper_sized_bores_in(od_in)):
        return _copper_sized_or_not(window, bores, tube.bore_in, od_in)
    return None


def _copper_sized_bores_in(od_in: float) -> list[float]:
    """Bores of the tubing of copper tube size whose outside may read so. [in]"""
    return [
        row.bore_in
        for row in pipes().values()
        if row.family in COPPER_SIZED
        and row.bore_in is not None
        and _within(od_in, row.od_in - row.od_minus_in, row.od_in + row.od_plus_in)
    ]


def _copper_sized_or_not(
    window: FitWindow, bores_in: list[float], bore_in: float | None, od_in: float
) -> Text | None:
    """Stiff tubing of nearly the same outside goes in by force and creeps out: the bore tells."""
    given = Figure(od_in, "in", 3)
    if bore_in is None:
        return say(
            "A {given} tube may be copper tube size (CTS), not for this ring: "
            "measure the bore first.",
            given=given,
        )
    if abs(bore_in - (window.usual_bore_in or 0.0)) < min(abs(bore_in - one) for one in bores_in):
        return None
    return say(
        "By its {bore} bore a {given} tube is copper tube size (CTS), not for this ring.",
        bore=Figure(bore_in, "in", 3),
        given=given,
    )


def _copper_sized(window: FitWindow) -> Text:
    return say(
        "{part} is not made for tubing of copper tube size (CTS), which has fittings of its own.",
        part=window.label,
    )


def _rings_that_also_take(od_in: float, window: FitWindow) -> list[FitWindow]:
    """Other rings whose window this outside lies in: then the outside alone does not tell."""
    rings = (row for row in fit_windows().values() if row.end_kind == "ring" and row is not window)
    return [row for row in rings if _within(od_in, row.low_in, row.high_in)]


def _which_ring(window: FitWindow, rivals: list[FitWindow], tube: Tube) -> Text | None:
    """A ring one size too large goes on by hand and blows off when warm: the bore must tell."""
    other = rivals[0]
    if tube.bore_in is None:
        return say(
            "A {given} tube may be meant for this ring or for {other}: measure the bore first.",
            given=Figure(tube.od_in or 0.0, "in", 3),
            other=f"{other.size} in",
        )
    off = abs(tube.bore_in - (window.usual_bore_in or 0.0))
    if off < min(abs(tube.bore_in - (row.usual_bore_in or 0.0)) for row in rivals):
        return None
    return say(
        "By its {bore} bore a {given} tube is not the one for this ring: try {other}.",
        bore=Figure(tube.bore_in, "in", 3),
        given=Figure(tube.od_in or 0.0, "in", 3),
        other=f"{other.size} in",
    )


def _plain_way(end_kind: str) -> TubeJoint:
    kind = {"grip-tube": "grip_tube", "micro-barb": "micro_barb"}.get(end_kind, end_kind)
    row = joints()[kind]
    return TubeJoint(kind, row.minutes, row.ceiling_psi)


def _any_half_inch(end: End, window: FitWindow) -> tuple[TubeJoint, ...] | Refusal:
    low, high = HALF_INCH_OD_IN
    if window.measure == "OD" and window.low_in <= low and window.high_in >= high:
        return (_plain_way(end.kind),)
    return Refusal(
        say(
            "{part} takes one kind of half-inch tube, and which this is was not measured.",
            part=window.label,
        )
    )


def _wall_bears(tube: Tube) -> float:
    """Rating of thick tubing by its measured wall and the lower design stress. [psi]"""
    stress = materials()["pe"].design_stress_psi
    if tube.od_in is None or tube.wall_in is None or stress is None:
        return THICK_ONE_CLAMP_PSI
    return pipe_pressure_rating(tube.od_in, tube.wall_in, stress)


def _barb_ways(window: FitWindow, tube: Tube) -> tuple[TubeJoint, ...]:
    """Bare, one clamp, two clamps: each that the trade allows on this end and tube."""
    bare, clamped = joints()["barb_bare"], joints()["barb_clamped"]
    ways = []
    if not (window.thick_only or tube.thick):
        ways.append(TubeJoint(bare.id, bare.minutes, bare.ceiling_psi))
    thick_pipe = window.thick_only and tube.thick
    # Thick pipe is no stronger than its own wall, whatever clamps it.
    wall_psi = _wall_bears(tube) if thick_pipe else 0.0
    one_psi = min(THICK_ONE_CLAMP_PSI, wall_psi) if thick_pipe else clamped.ceiling_psi
    for clamp in ("screw", "pinch"):
        ways.append(TubeJoint(clamped.id, clamped.minutes, one_psi, clamp, 1))
        if thick_pipe:
            minutes = clamped.minutes + CLAMP_MINUTES
            ways.append(
                TubeJoint(clamped.id, minutes, min(THICK_TWO_CLAMPS_PSI, wall_psi), clamp, 2)
            )
    return tuple(ways)


def _measure_first(window: FitWindow) -> Text:
    if window.measure == "OD":
        return say("{part} is told by the tube’s outside: measure that first.", part=window.label)
    return say("{part} is told by the tube’s bore: measure the bore first.", part=window.label)


def _outside_window(window: FitWindow, given_in: float) -> Text:
    words = {
        ("OD", True): "{part} refuses a {given} tube: it takes {low} to {high} outside.",
        ("OD", False): "{part} refuses a {given} tube: it takes {low} to {high} outside.",
        ("ID", True): "{part} is too large for a {given} bore: it takes {low} to {high}.",
        ("ID", False): "{part} is loose in a {given} bore: it takes {low} to {high}.",
    }[window.measure, given_in < window.low_in]
    return say(
        words,
        part=window.label,
        given=Figure(given_in, "in", 3),
        low=Figure(window.low_in, "in", 3, bare=True),
        high=Figure(window.high_in, "in", 3),
    )


def _bore_under_barb(window: FitWindow, bore_in: float) -> Text:
    return say(
        "{part} has a barb that needs a bore of {low} or more; this bore is {given}.",
        part=window.label,
        low=Figure(window.bore_low_in or 0.0, "in", 3),
        given=Figure(bore_in, "in", 3),
    )
