"""How oval a pipe or tube is, and what is said about it."""

from __future__ import annotations

from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.measuring import uncertainty
from fieldkit.tables.pipes import ips_pvc


def about_ovality(ovality_in: float, od_in: float, kind: str) -> tuple[Text, ...]:
    """A sentence when it is more oval than its kind may be, and none otherwise.

    Parameters
    ----------
    ovality_in : float
        Largest less smallest outside diameter. [in]
    od_in : float
        Mean outside diameter. [in]
    kind : str
        ``"pvc"`` or ``"pe"``.

    Returns
    -------
    tuple of Text
        One sentence or none.

    Source
    ------
    astm-d1785 and astm-d2241 for PVC, through pipes.csv. Status: secondary.

    Examples
    --------
    >>> about_ovality(0.010, 0.700, "pe")
    ()
    """
    limit_in = ovality_limit_in(od_in, kind)
    if limit_in is None or ovality_in <= limit_in:
        return ()
    parts = {"oval": Figure(ovality_in, "in", 3), "limit": Figure(limit_in, "in", 3)}
    if kind == "pvc":
        return (
            say(
                "It is {oval} out of round, more than the {limit} of its standard. "
                "Measure clear of the end and of bends.",
                **parts,
            ),
        )
    return (
        say(
            "The tubing is {oval} oval, more than {limit}. "
            "Round it by hand, or cut back, before it goes into a ring or grip.",
            **parts,
        ),
    )


def ovality_limit_in(od_in: float, kind: str) -> float | None:
    """Out-of-round that the nearest PVC rows allow, or a share of a tube's outside. [in]"""
    if kind == "pe":
        return uncertainty()["tube_ovality_share"].value * od_in
    near = [
        row.oor_max_in
        for row in ips_pvc().values()
        if row.oor_max_in is not None and abs(row.od_in - od_in) <= 0.02 * row.od_in
    ]
    return max(near, default=None)
