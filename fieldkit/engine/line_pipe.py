"""The row of the pipe table that a run of pipe or tubing in a line stands for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import say
from fieldkit.tables.other_kinds import water_pipes
from fieldkit.tables.pipes import Pipe, nominal_inches

_FLEXIBLE = ("pe", "pe4710")


@cache
def _by_size(material: str) -> dict[tuple[str, str], Pipe]:
    """Rows of a material by (nominal, class), the commonest where a name stands for several."""
    wanted = "pe" if material in _FLEXIBLE else material
    rows = [row for row in water_pipes() if row.material == wanted and row.wall_in]
    return {(row.nominal, row.pipe_class): row for row in sorted(rows, key=lambda row: row.share)}


def line_pipe(material: str, nominal: str, pipe_class: str | None, field: str = "pipe") -> Pipe:
    """The pipe of a material, size and class, rigid or flexible.

    Tubing for drip has no class: its name stands for several sizes, and the commonest is given.

    Parameters
    ----------
    material : str
        An id of ``materials.csv``: ``"pvc"``, ``"pe"``, ``"drip"``, ``"cpvc"``, …
    nominal : str
        Trade size as ``pipes.csv`` writes it.
    pipe_class : str or None
        Class as ``pipes.csv`` writes it.
    field : str
        The request's key of the pipe; ``.nominal`` or ``.class`` is put behind it.

    Returns
    -------
    Pipe
        The row, with its source.

    Raises
    ------
    Problem
        The class is missing where the size alone does not tell the wall.
    OutOfRange
        There is no such pipe: the sentence lists what there is.

    Source
    ------
    astm-d1785, astm-d2241, astm-d2239, astm-d3035, drip-market. Status: secondary.

    Examples
    --------
    >>> line_pipe("pe", "1", "SIDR-15").wall_in
    0.07
    """
    rows = _by_size(material)
    if material in _FLEXIBLE and pipe_class and (nominal, pipe_class) not in rows:
        # Polyethylene sized by its outside is sold by DR, and often called SDR.
        ratio = pipe_class.removeprefix("S")
        pipe_class = ratio if (nominal, ratio) in rows else pipe_class
    metric = nominal.endswith("mm")
    if not (pipe_class or metric or material == "drip"):
        raise Problem(
            f"{field}.class",
            None,
            say("The size alone does not tell how thick the wall is."),
            say("Give the class printed on it, such as Sch 40, SDR 21 or SIDR 15."),
        )
    if material == "pvc" and not metric:
        return rigid_pvc(nominal, pipe_class or "", field)
    found = rows.get((nominal, pipe_class or ""))
    if found is None:
        raise _not_listed(rows, nominal, pipe_class, field)
    return found


def _not_listed(
    rows: Mapping[tuple[str, str], Pipe], nominal: str, pipe_class: str | None, field: str
) -> OutOfRange:
    """The problem of a pipe that no row is, with what there is instead."""
    classes = sorted({kind for size, kind in rows if size == nominal and kind})
    if classes:
        return OutOfRange(
            f"{field}.class",
            pipe_class,
            say("We list no such class of this material in {size}.", size=nominal),
            say("In this size there is {kinds}.", kinds=", ".join(classes)),
        )
    sizes = sorted({size for size, _ in rows}, key=nominal_inches)
    return OutOfRange(
        f"{field}.nominal",
        nominal,
        say("We list no pipe of this material in {size}.", size=nominal),
        say("Sizes listed: {sizes}.", sizes=", ".join(sizes) or "none"),
    )


def third_size(
    od_in: float | None, wall_in: float | None, bore_in: float | None
) -> tuple[float | None, float | None, float | None]:
    """Outside, wall and bore, the third worked out where two are known. [in]

    A bore that is not under the outside leaves the wall unknown.

    Examples
    --------
    >>> third_size(1.0, 0.125, None), third_size(0.5, None, 0.6)
    ((1.0, 0.125, 0.75), (0.5, None, 0.6))
    """
    if od_in is not None and bore_in is not None and wall_in is None and bore_in < od_in:
        wall_in = (od_in - bore_in) / 2.0
    elif od_in is not None and wall_in is not None and bore_in is None:
        bore_in = od_in - 2.0 * wall_in
    elif bore_in is not None and wall_in is not None and od_in is None:
        od_in = bore_in + 2.0 * wall_in
    return od_in, wall_in, bore_in


def thinnest_bore_in(pipe: Pipe) -> float:
    """The bore that goes with the least wall, so that volume and stiffness fit together. [in]

    Examples
    --------
    >>> round(thinnest_bore_in(line_pipe("pvc", "2", "Sch 40")), 3)
    2.067
    """
    if pipe.wall_in is None:
        raise ValueError(f"{pipe.id} has no wall")
    if pipe.sized_by == "ID" and pipe.bore_in is not None:
        return pipe.bore_in
    return pipe.od_in - 2 * pipe.wall_in


def mean_bore_in(pipe: Pipe) -> float:
    """The bore that the table prints as the mean, the likeliest. [in]

    Examples
    --------
    >>> mean_bore_in(line_pipe("pvc", "1", "Sch 40"))
    1.029
    """
    return thinnest_bore_in(pipe) if pipe.bore_in is None else pipe.bore_in


def least_bore_in(pipe: Pipe) -> float:
    """The smallest bore that the standard lets through: what a loss is promised for. [in]

    The least outside with the thickest wall; for pipe sized by its bore, the least bore.

    Examples
    --------
    >>> round(least_bore_in(line_pipe("pvc", "1", "Sch 40")), 3)
    1.004
    """
    bores = [mean_bore_in(pipe)]
    if pipe.bore_in is not None:
        bores.append(pipe.bore_in - (pipe.bore_minus_in or 0.0))
    if pipe.sized_by == "OD" and pipe.wall_in is not None:
        thickest = pipe.wall_in + (pipe.wall_plus_in or 0.0)
        bores.append(pipe.od_in - pipe.od_minus_in - 2 * thickest)
    return min(bores)
