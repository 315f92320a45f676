"""The outside diameter by caliper, strip of paper or phone screen, with its uncertainty.

OD at 73 °F = mean · [1 − α (T − 73 °F)], and U = 2 u_c after the GUM: the parts of u_c are the
scatter of the readings, the instrument, the soft wall and what is not known of temperature and
expansion. Each is a line of the working.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fieldkit.engine.measuring.budget import (
    RECTANGULAR,
    Part,
    combined_in,
    half_width,
    sample_deviation,
    step_width,
)
from fieldkit.engine.measuring.odd_readings import (
    OddReading,
    distances_in,
    odd_limit_in,
    odd_readings,
    refuse_slips,
)
from fieldkit.engine.measuring.roundness import about_ovality
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, precise_row, worked
from fieldkit.tables.materials import Material, materials
from fieldkit.tables.measuring import UncertaintyRow, uncertainty

#: Materials whose outside can be brought to 73 °F, and whose budget row each goes by.
WALLS = {"pvc": "pvc", "cpvc": "pvc", "pe": "pe", "pe4710": "pe", "drip": "pe", "pex": "pe"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured(Answer):
    """An outside diameter. ``ovality_in`` is None where the way of measuring cannot see it."""

    od_in: float
    u_od_in: float
    ovality_in: float | None
    mean_in: float
    scatter_in: float
    readings_in: tuple[float, ...]
    odd_readings: tuple[OddReading, ...]
    method: str
    material: str
    temperature_f: float
    temperature_assumed: bool
    zero_in: float | None = None
    zero_at: str | None = None
    wall_in: float | None = None
    bore_in: float | None = None
    u_bore_in: float | None = None


@dataclass(frozen=True, slots=True)
class _Wall:
    """The wall that is measured, and at what temperature."""

    material: str
    row: Material
    temperature_f: float
    assumed: bool

    @property
    def off_f(self) -> float:
        """How far from the reference temperature. [°F]"""
        return self.temperature_f - uncertainty()["reference_temperature"].value


def outside_at_reference(
    mean_in: float, alpha_per_f: float, temperature_f: float, reference_f: float = 73.0
) -> float:
    """A diameter measured warm or cold, as it is at the reference temperature.

    Parameters
    ----------
    mean_in : float
        Diameter as measured, above 0. [in]
    alpha_per_f : float
        Coefficient of linear expansion α, from ``materials.csv``. [1/°F]
    temperature_f : float
        Temperature of the wall. [°F]
    reference_f : float
        Temperature that sizes are tabled at. [°F]

    Returns
    -------
    float
        Diameter at the reference temperature. [in]

    Source
    ------
    alpha-supplier-tables for α. Status: secondary.

    Examples
    --------
    >>> round(outside_at_reference(0.7030, 9.0e-5, 120.0), 4)
    0.7
    """
    require(mean_in, "mean_in", above=0.0, unit="in")
    return mean_in * (1 - alpha_per_f * (temperature_f - reference_f))


def outside_from_strip(length_in: float, thickness_in: float, turns: int = 1) -> float:
    """Outside diameter from the length of a strip or thread wound round it.

    OD = L / (N π) − d: the strip's own middle runs half its thickness outside the wall.

    Parameters
    ----------
    length_in : float
        Length L of the wound part, above 0. [in]
    thickness_in : float
        Thickness of paper, or diameter of thread, d; not below 0. [in]
    turns : int
        Times round, N; 1 or more. [1]

    Returns
    -------
    float
        Outside diameter. [in]

    Raises
    ------
    OutOfRange
        A value is outside the range given above, or the strip is too short for its thickness.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(outside_from_strip(2.2117, 0.004), 3)
    0.7
    """
    require(length_in, "length_in", above=0.0, unit="in")
    require(thickness_in, "thickness_in", at_least=0.0, unit="in")
    require(float(turns), "turns", at_least=1.0, places=0)
    od_in = length_in / (turns * math.pi) - thickness_in
    require(od_in, "length_in", above=0.0, unit="in")
    return od_in


def measure_with_caliper(
    readings_in: tuple[float, ...],
    material: str,
    *,
    temperature_f: float | None = None,
    resolution_in: float | None = None,
    paired: bool = False,
    zero_in: float | None = None,
) -> Measured:
    """Mean outside diameter from caliper readings round the pipe.

    Parameters
    ----------
    readings_in : tuple of float
        1 to 50 readings, above 0 and up to 5; two at right angles make the oval cancel. [in]
    material : str
        One of ``WALLS``.
    temperature_f : float or None
        Temperature of the wall, −40 to 180; None: 73 is assumed, with more doubt. [°F]
    resolution_in : float or None
        Display step, above 0 and up to 0.1; None: that of a digital caliper. [in]
    paired : bool
        The readings come two by two, a quarter turn apart. An oval of two lobes then cancels in
        each pair, so only what the pairs differ by counts as scatter, not the oval itself.
        Four or more in any order that differ by far more than a caliper scatters are taken as an
        oval too: the widest goes with the narrowest, and how evenly they lie round it is doubted.
    zero_in : float or None
        What the caliper shows with its jaws closed, −0.05 to 0.05; it is taken off each reading.
        None: it was not read, with more doubt. [in]

    Returns
    -------
    Measured
        Diameter at 73 °F, ovality and expanded uncertainty (k = 2).

    Raises
    ------
    Problem
        A reading was typed in another unit, or the material is unknown.
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    gum for the sum; uncertainty.csv for its parts. Status: common practice, no source.

    Examples
    --------
    >>> four = (0.701, 0.703, 0.699, 0.701)
    >>> found = measure_with_caliper(four, "pe", temperature_f=73.0, zero_in=0.001)
    >>> str(found.headline)
    'The outside is 0.700 in across, give or take 0.004 in.'
    """
    wall = _wall_at(material, temperature_f)
    rules = uncertainty()
    refuse_slips(_some(readings_in), rules["largest_outside"].value, "readings")
    step = rules["caliper_step"]
    step_in = step.value if resolution_in is None else resolution_in
    require(step_in, "resolution", above=0.0, at_most=0.1, unit="in", places=4)
    outsides_in = _without_zero(readings_in, zero_in)
    kind = WALLS[material]
    floor = rules[f"repeat_{kind}"]
    count = len(readings_in)
    parts = (
        *_scatter_of_caliper(outsides_in, floor, paired=paired),
        half_width(rules["caliper_accuracy"]),
        _doubt_of_zero(rules["caliper_zero"], zero_in, step_in),
        step_width(step_in, step.name, step.source, step.status),
        half_width(rules[f"jaw_force_{kind}"]),
    )
    odd = odd_readings(readings_in, floor.value)
    ovality_in = max(readings_in) - min(readings_in)
    found = _measured(readings_in, outsides_in, parts, wall, "caliper")
    cautions = (
        *(_about(one) for one in odd),
        *about_ovality(ovality_in, found.od_in, kind),
        *_about_count(count),
    )
    rule = rules["odd_score"]
    more = (
        worked("ovality", ovality_in, readings=precise_row(readings_in, "in")),
        worked(
            "outlying_distance",
            odd_limit_in(readings_in, floor.value),
            {
                "least scatter": precise(floor.value, "in"),
                "distances": precise_row(distances_in(readings_in), "in"),
            },
            rests=rule,
        ),
    )
    return replace(
        found,
        verdict="look_again" if odd else "measured",
        ovality_in=ovality_in,
        zero_in=zero_in,
        odd_readings=odd,
        cautions=cautions,
        working=(*found.working, *(more if count > 1 else ())),
    )


def measure_with_strip(
    lengths_in: tuple[float, ...],
    material: str,
    *,
    temperature_f: float | None = None,
    thickness_in: float | None = None,
    resolution_in: float | None = None,
    turns: int = 1,
) -> Measured:
    """Mean outside diameter from strips of paper, or thread, wound round the pipe.

    Parameters
    ----------
    lengths_in : tuple of float
        1 to 50 lengths of strip round the pipe, above 0. [in]
    material : str
        One of ``WALLS``.
    temperature_f : float or None
        Temperature of the wall, −40 to 180; None: 73 is assumed, with more doubt. [°F]
    thickness_in : float or None
        Thickness of paper or thread, 0 to 0.1; None: office paper. [in]
    resolution_in : float or None
        Marks of the ruler, above 0 and up to 0.25; None: 0.5 mm. [in]
    turns : int
        Times round, 1 to 50. [1]

    Returns
    -------
    Measured
        Diameter at 73 °F and expanded uncertainty (k = 2). A strip cannot see ovality.

    Raises
    ------
    Problem
        A length was typed in another unit, or the material is unknown.
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    gum for the sum; uncertainty.csv for its parts. Status: common practice, no source.

    Examples
    --------
    >>> measure_with_strip((2.2117,), "pe", temperature_f=73.0).headline
    'The outside is 0.700 in across, give or take 0.008 in.'
    """
    wall = _wall_at(material, temperature_f)
    rules = uncertainty()
    require(float(turns), "turns", at_least=1.0, at_most=50.0, places=0)
    paper, marks = rules["paper_thickness"], rules["ruler_step"]
    thick_in = paper.value if thickness_in is None else thickness_in
    require(thick_in, "paper", at_least=0.0, at_most=0.1, unit="in", places=4)
    step_in = marks.value if resolution_in is None else resolution_in
    require(step_in, "resolution", above=0.0, at_most=0.25, unit="in", places=4)
    largest_in = rules["largest_outside"].value * math.pi * turns
    refuse_slips(_some(lengths_in), largest_in, "readings")
    outsides = tuple(_from_strip(at, one, thick_in, turns) for at, one in enumerate(lengths_in))
    per_length = 1 / (turns * math.pi)
    tilt = rules["strip_tilt_deg"]
    longest_in = max(lengths_in)
    askew_in = longest_in * (1 / math.cos(math.radians(tilt.value)) - 1) / 2
    parts: tuple[Part, ...] = (
        half_width(marks, sensitivity=per_length, spread=step_in / 2 * math.sqrt(2.0)),
        half_width(rules["ruler_scale"], sensitivity=per_length),
        # Each turn lies loose by itself, so more turns do not make this one smaller.
        half_width(rules["strip_slack"], sensitivity=1 / math.pi),
        half_width(tilt, sensitivity=per_length, spread=askew_in, unit="in"),
        half_width(rules["paper_tolerance"]),
    )
    if len(lengths_in) > 1:
        parts = (*parts, _scatter(sample_deviation(outsides), len(lengths_in), None))
    start = Line(
        "outside from the first strip",
        "L / (N π) − d",
        {
            "L": precise(lengths_in[0], "in"),
            "N": turns,
            "d": precise(thick_in, "in"),
            "thickness": "as given" if thickness_in is not None else "assumed: office paper",
        },
        outsides[0],
        "in",
        paper.source if thickness_in is None else "statics",
        paper.status if thickness_in is None else "computed",
    )
    found = _measured(lengths_in, outsides, parts, wall, "strip")
    odd = odd_readings(outsides, combined_in(parts))
    return replace(
        found,
        verdict="look_again" if odd else "measured",
        odd_readings=odd,
        cautions=tuple(_about(one) for one in odd),
        working=(start, *found.working),
    )


def measure_on_screen(
    readings_in: tuple[float, ...],
    material: str,
    *,
    temperature_f: float | None = None,
    resolution_in: float | None = None,
    bore_in: float | None = None,
) -> Measured:
    """Mean outside diameter from circles on a screen that was made a ruler by a bank card.

    Parameters
    ----------
    readings_in : tuple of float
        1 to 50 diameters of the circle that matched the outside, above 0 and up to 5. [in]
    material : str
        One of ``WALLS``.
    temperature_f : float or None
        Temperature of the wall, −40 to 180; None: 73 is assumed, with more doubt. [°F]
    resolution_in : float or None
        Smallest change of the circle, above 0 and up to 0.1; None: that of a phone. [in]
    bore_in : float or None
        Diameter of the circle that matched the bore, above 0 and below the mean. [in]

    Returns
    -------
    Measured
        Diameter at 73 °F and expanded uncertainty (k = 2), and the bore with its own. A circle
        cannot see ovality.

    Raises
    ------
    Problem
        A reading was typed in another unit, or the material is unknown.
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    iso-7810 for the card, gum for the sum; uncertainty.csv for its parts. Status: common
    practice, no source.

    Examples
    --------
    >>> measure_on_screen((0.7,), "pe", temperature_f=73.0).headline
    'The outside is 0.700 in across, give or take 0.018 in.'
    """
    wall = _wall_at(material, temperature_f)
    rules = uncertainty()
    refuse_slips(_some(readings_in), rules["largest_outside"].value, "readings")
    step_in = rules["screen_step"].value if resolution_in is None else resolution_in
    require(step_in, "resolution", above=0.0, at_most=0.1, unit="in", places=4)
    parts = _parts_of_screen(math.fsum(readings_in) / len(readings_in), step_in)
    if len(readings_in) > 1:
        parts = (*parts, _scatter(sample_deviation(readings_in), len(readings_in), None))
    found = _measured(readings_in, readings_in, parts, wall, "screen")
    if bore_in is None:
        return found
    require(bore_in, "bore", above=0.0, below=found.mean_in, unit="in")
    u_bore_in = doubt_of_circle(bore_in, step_in)
    line = worked(
        "expanded_uncertainty_of_bore",
        u_bore_in,
        bore=Figure(bore_in, "in", 3),
        k=precise(rules["coverage"].value),
        u=precise_row((part.u_in for part in _parts_of_screen(bore_in, step_in)), "in"),
    )
    return replace(found, bore_in=bore_in, u_bore_in=u_bore_in, working=(*found.working, line))


def doubt_of_circle(across_in: float, resolution_in: float | None = None) -> float:
    """What one circle that was matched on the screen may be off.

    U = 2 √Σu²: how the card was fitted, which grows with the diameter, and for each of two edges
    the eye's slant through the glass and the eye itself.

    Parameters
    ----------
    across_in : float
        Diameter of the circle, 0 to 5. [in]
    resolution_in : float or None
        Smallest change of the circle; None: that of a phone. [in]

    Returns
    -------
    float
        Expanded uncertainty (k = 2), without what heat does to the thing measured. [in]

    Source
    ------
    iso-7810 for the card, gum for the sum. Status: common practice, no source.

    Examples
    --------
    >>> round(doubt_of_circle(0.7) * 25.4, 2)
    0.46
    """
    require(across_in, "across_in", at_least=0.0, at_most=5.0, unit="in")
    rules = uncertainty()
    step_in = rules["screen_step"].value if resolution_in is None else resolution_in
    return rules["coverage"].value * combined_in(_parts_of_screen(across_in, step_in))


#: Short and long side of a bank card, ISO/IEC 7810 ID-1. [mm]
CARD_MM = (53.98, 85.60)


def _parts_of_screen(across_in: float, step_in: float) -> tuple[Part, ...]:
    """What a diameter read on the glass may be off: the card, and each of its two edges.

    A line t under the glass, seen θ off upright, is off by t tan θ. The eye moves from one edge
    to the other, so the two are taken as independent: √2 of one.
    """
    rules = uncertainty()
    tilt, step, both = rules["screen_eye_deg"], rules["screen_step"], math.sqrt(2.0)
    shift_in = rules["screen_glass"].value * math.tan(math.radians(tilt.value))
    parallax = half_width(tilt, sensitivity=both, spread=shift_in, unit="in")
    return (
        half_width(rules["screen_card"], sensitivity=across_in * 25.4 / CARD_MM[1]),
        replace(
            parallax,
            formula="t tan(π θ / 180) × √2 / √3; t the glass",
            inputs={
                "t": precise(rules["screen_glass"].value, "in"),
                "θ": precise(tilt.value, "°"),
            },
        ),
        half_width(rules["screen_edge"], sensitivity=both),
        step_width(step_in, step.name, step.source, step.status),
    )


# ── The parts that all ways share ───────────────────────────────────────────────────────────


def _wall_at(material: str, temperature_f: float | None) -> _Wall:
    if material not in WALLS:
        raise OutOfRange(
            "material",
            material[:40],
            say("The expansion of {material} is not listed here.", material=material[:40]),
            say("Choose one of: {names}.", names=", ".join(WALLS)),
        )
    if temperature_f is not None:
        require(temperature_f, "temperature", at_least=-40.0, at_most=180.0, unit="°F", places=0)
    reference_f = uncertainty()["reference_temperature"].value
    return _Wall(
        material,
        materials()[material],
        reference_f if temperature_f is None else temperature_f,
        temperature_f is None,
    )


def _some(readings_in: tuple[float, ...]) -> tuple[float, ...]:
    if not 1 <= len(readings_in) <= 50:
        raise OutOfRange(
            "readings",
            None,
            say("{n} readings were given here.", n=len(readings_in)),
            say("Give 1 to 50."),
        )
    return readings_in


def _scatter(deviation_in: float, count: int, floor: UncertaintyRow | None) -> Part:
    """Type A: the scatter of the mean, and the least that few readings can show."""
    ruled = floor is not None and deviation_in < floor.value
    spread_in = floor.value if floor is not None and ruled else deviation_in
    return Part(
        name="scatter of the readings",
        formula="s / √n; s the least scatter, which rules here" if ruled else "s / √n",
        inputs={"s": precise(spread_in, "in"), "n": count},
        spread=spread_in,
        divisor=math.sqrt(count),
        sensitivity=1.0,
        source=floor.source if floor is not None and ruled else "gum",
        status=floor.status if floor is not None and ruled else "computed",
    )


def _without_zero(readings_in: tuple[float, ...], zero_in: float | None) -> tuple[float, ...]:
    """The readings less what the caliper shows when it is closed."""
    if zero_in is None:
        return readings_in
    require(zero_in, "zero", at_least=-0.05, at_most=0.05, unit="in")
    for at, one in enumerate(readings_in):
        require(one - zero_in, f"readings[{at}]", above=0.0, unit="in")
    return tuple(one - zero_in for one in readings_in)


def _doubt_of_zero(row: UncertaintyRow, zero_in: float | None, step_in: float) -> Part:
    """A zero that was read is as fine as the display; one that was not may be anything near 0."""
    if zero_in is None:
        return half_width(row)
    name = say("how finely the zero was read: {zero}, taken off", zero=Figure(zero_in, "in", 4))
    return step_width(step_in, name, "gum", "computed")


#: Readings that differ by more than this many least scatters are an oval, not scatter. Ours.
_OVAL_FROM = 4.0


def _scatter_of_caliper(
    outsides_in: tuple[float, ...], floor: UncertaintyRow, *, paired: bool
) -> tuple[Part, ...]:
    """Scatter of the mean, without the oval where four or more readings can tell it.

    An oval of two lobes puts as much on one reading as it takes from the one a quarter turn on.
    Where the order is not known, the widest is paired with the narrowest; if they do not lie
    evenly round, by half-width a each, the mean of n is off by δ sin 2θ · a, of which the root
    mean square is δ a / √(2 n).
    """
    count, oval_in = len(outsides_in), max(outsides_in) - min(outsides_in)
    if count < 4 or count % 2:
        return (_scatter(sample_deviation(outsides_in), count, floor),)
    if paired:
        return (_scatter_of_pairs(outsides_in, floor),)
    if oval_in <= _OVAL_FROM * floor.value:
        return (_scatter(sample_deviation(outsides_in), count, floor),)
    in_order, half = sorted(outsides_in), count // 2
    facing = zip(in_order[:half], reversed(in_order[half:]), strict=True)
    return (
        _scatter_of_pairs(tuple(one for pair in facing for one in pair), floor),
        half_width(
            uncertainty()["oval_placing"],
            sensitivity=oval_in * math.radians(1.0) / math.sqrt(2.0 * count),
        ),
    )


def _scatter_of_pairs(readings_in: tuple[float, ...], floor: UncertaintyRow) -> Part:
    """Scatter of the means of pairs; the mean of two scatters less by √2, and so does its floor.

    d(θ) = D + (δ/2) cos 2θ, so d(θ) + d(θ + 90°) = 2 D whatever the oval δ.
    """
    means = tuple(
        (one + other) / 2 for one, other in zip(readings_in[::2], readings_in[1::2], strict=True)
    )
    least = replace(floor, value=floor.value / math.sqrt(2.0))
    part = _scatter(sample_deviation(means), len(means), least)
    return replace(part, name=say("scatter of the pairs a quarter turn apart"))


def _from_strip(at: int, length_in: float, thickness_in: float, turns: int) -> float:
    try:
        return outside_from_strip(length_in, thickness_in, turns)
    except OutOfRange:
        raise OutOfRange(
            f"readings[{at}]",
            length_in,
            say(
                "A strip of {length} is too short for its own thickness.",
                length=Figure(length_in, "in", 3),
            ),
            say("Give the length once round the pipe."),
        ) from None


def _measured(
    readings_in: tuple[float, ...],
    outsides_in: tuple[float, ...],
    parts: tuple[Part, ...],
    wall: _Wall,
    method: str,
) -> Measured:
    """Mean, bring to 73 °F, add the doubt about heat, and expand."""
    rules = uncertainty()
    mean_in = math.fsum(sorted(outsides_in)) / len(outsides_in)
    reference = rules["reference_temperature"]
    alpha = wall.row.alpha_per_f
    od_in = outside_at_reference(mean_in, alpha, wall.temperature_f, reference.value)
    heat = rules["temperature_assumed" if wall.assumed else "temperature_given"]
    parts = (
        *parts,
        half_width(heat, sensitivity=alpha * mean_in),
        Part(
            name="what the coefficient of expansion may be off",
            formula="half-width × sensitivity / √3",
            inputs={
                "half-width": precise(wall.row.alpha_half_width_per_f, "1/°F"),
                "sensitivity": precise(abs(mean_in * wall.off_f), "in·°F"),
            },
            spread=wall.row.alpha_half_width_per_f,
            divisor=RECTANGULAR,
            sensitivity=mean_in * wall.off_f,
            source="alpha-supplier-tables",
            status="secondary",
        ),
    )
    u_in = combined_in(parts)
    cover = rules["coverage"]
    u_od_in = cover.value * u_in
    # A line stays in the units of its formula: the figure goes in as it is written.
    given = "{heat}, assumed: none was given" if wall.assumed else "{heat}, as given"
    heat_inputs = {
        "mean": precise(mean_in, "in"),
        "α": say("{alpha} per °F, {material}", alpha=precise(alpha), material=wall.row.name),
        "T": say(given, heat=precise(wall.temperature_f, "°F")),
        "T₀": precise(reference.value, "°F"),
    }
    source = "alpha-supplier-tables"
    working = (
        worked("mean_before_correction", mean_in, outsides=precise_row(outsides_in, "in")),
        Line(
            "outside at 73 °F",
            "mean [1 − α (T − T₀)]",
            heat_inputs,
            od_in,
            "in",
            source,
            "secondary",
        ),
        *(part.line() for part in parts),
        worked("combined_uncertainty", u_in, u=precise_row((part.u_in for part in parts), "in")),
        worked(
            "expanded_uncertainty",
            u_od_in,
            rests=cover,
            k=precise(cover.value),
            u_c=precise(u_in, "in"),
        ),
    )
    return Measured(
        verdict="measured",
        headline=say(
            "The outside is {od} across, give or take {u}.",
            od=Figure(od_in, "in", 3),
            u=Figure(u_od_in, "in", 3),
        ),
        working=working,
        od_in=od_in,
        u_od_in=u_od_in,
        ovality_in=None,
        mean_in=mean_in,
        scatter_in=sample_deviation(outsides_in),
        readings_in=readings_in,
        odd_readings=(),
        method=method,
        material=wall.material,
        temperature_f=wall.temperature_f,
        temperature_assumed=wall.assumed,
    )


def _about(odd: OddReading) -> Text:
    return say(
        "Reading {number} is {off} off the middle of the others. "
        "Take it again; it is still counted.",
        number=odd.number,
        off=Figure(abs(odd.off_by_in), "in", 3),
    )


def _about_count(count: int) -> tuple[Text, ...]:
    if count >= 2:
        return ()
    return (say("One reading cannot show an oval. Take four: along, across and between."),)
