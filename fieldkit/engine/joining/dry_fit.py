"""How far a pipe goes into a dry tapered socket, and what that says of the fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fieldkit.engine.joining.cement import nominal_in
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Text, say
from fieldkit.tables.joining import sockets
from fieldkit.tables.measuring import uncertainty

#: A dry pipe should stop between a third and two thirds of the way in. Source: astm-d2855.
SNUG = (1 / 3, 2 / 3)

#: What a person sees, in the order of a page's choices.
WORDS = ("snug", "tight", "deep", "bottoms", "falls off")


@dataclass(frozen=True, slots=True)
class DryFit:
    """A judged dry fit. ``heavier_body`` asks for a cement that fills; ``use`` allows it.

    ``stop_low`` and ``stop_high`` are the shares of depth that a measured outside may stop at.
    """

    word: str
    use: bool
    heavier_body: bool
    sentence: Text
    stop_low: float | None = None
    stop_high: float | None = None


_UNSURE = DryFit(
    "unsure",
    True,
    True,
    say("Its outside is at the edge of what this size allows: push it in dry before you decide."),
)
_JUDGED = {
    "snug": DryFit("snug", True, False, say("It stops a third to two thirds in: a good fit.")),
    "tight": DryFit(
        "tight",
        False,
        False,
        say("It stops before a third: too tight. Bevel the edge, look for swelling, or swap it."),
    ),
    "deep": DryFit(
        "deep", True, True, say("It stops past two thirds: usable, with a heavier cement.")
    ),
    "bottoms": DryFit(
        "bottoms", True, True, say("It reaches the bottom dry: usable, with a heavier cement.")
    ),
    "falls off": DryFit(
        "falls off", False, False, say("The fitting falls off the dry pipe: use other parts.")
    ),
}


def dry_fit_stop(entrance_in: float, bottom_in: float, od_in: float) -> float:
    """Share of a socket's depth at which a dry pipe stops.

    f = (entrance − OD) / (entrance − bottom): the taper closes on the pipe evenly.

    Parameters
    ----------
    entrance_in : float
        Inside diameter of the socket at its mouth, above the bottom's. [in]
    bottom_in : float
        Inside diameter at the bottom, above 0. [in]
    od_in : float
        Mean outside diameter of the pipe, above 0. [in]

    Returns
    -------
    float
        0 at the mouth, 1 at the bottom; below 0 it does not enter, above 1 it is loose. [1]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    statics: geometry of a straight taper; diameters by astm-d2466. Status: computed.

    Examples
    --------
    >>> round(dry_fit_stop(0.848, 0.836, 0.840), 3)
    0.667
    """
    require(bottom_in, "bottom_in", above=0.0, unit="in")
    require(entrance_in, "entrance_in", above=bottom_in, unit="in")
    require(od_in, "od_in", above=0.0, unit="in")
    return (entrance_in - od_in) / (entrance_in - bottom_in)


def judge_dry_fit(stop: float | str) -> DryFit:
    """Judge a dry fit by the share of depth it stops at, or by the word for what was seen.

    Parameters
    ----------
    stop : float or str
        Share of the socket's depth, or one of ``WORDS``. [1]

    Returns
    -------
    DryFit
        The word, whether it may be cemented, and a sentence.

    Raises
    ------
    OutOfRange
        Not a finite number, or not one of the words.

    Source
    ------
    astm-d2855: a third to two thirds, and the fitting that falls off. Status: secondary.

    Examples
    --------
    >>> judge_dry_fit(0.5).word, judge_dry_fit(0.2).word, judge_dry_fit(1.0).word
    ('snug', 'tight', 'bottoms')
    """
    if isinstance(stop, str):
        if stop not in _JUDGED:
            raise OutOfRange(
                "dry_fit",
                stop,
                say("“{given}” is not a dry fit we can judge.", given=stop[:40]),
                say("Say one of: {words}.", words=", ".join(WORDS)),
            )
        return _JUDGED[stop]
    require(stop, "dry_fit")
    # Six decimals: a nominal pipe stops at two thirds exactly, and must not miss it by a bit.
    stop = round(stop, 6)
    if stop < round(SNUG[0], 6):
        return _JUDGED["tight"]
    if stop <= round(SNUG[1], 6):
        return _JUDGED["snug"]
    return _JUDGED["deep"] if stop < 1 else _JUDGED["bottoms"]


def usual_u_od_in() -> float:
    """U of a mean outside read with a caliper, where it was not told: k = 2 on its scatter. [in]"""
    rows = uncertainty()
    return rows["coverage"].value * rows["repeat_pvc"].value


def judge_od_in_socket(nominal: str, od_in: float, u_od_in: float | None = None) -> DryFit:
    """Foretell the dry fit of a measured pipe in the standard Sch 40 socket of its size.

    Pipe within its own tolerance is never refused: only an outside beyond that by twice U is.
    Within U it counts as legal; between, the caliper cannot tell, and the dry fit decides. The
    stop is given with the socket's tolerance and U as a range.

    Parameters
    ----------
    nominal : str
        Trade size of the socket, ½ to 4.
    od_in : float
        Mean outside diameter of the pipe; within the socket's reach. [in]
    u_od_in : float, optional
        Its expanded uncertainty (k = 2), 0 or more; that of a caliper where not told. [in]

    Returns
    -------
    DryFit
        As ``judge_dry_fit``, or "unsure"; pipe surely under its tolerance falls off.

    Raises
    ------
    OutOfRange
        The size has no socket in the table, or U is below 0.

    Source
    ------
    astm-d2466 for the socket, astm-d1785 for the pipe. Status: from memory for this table.

    Examples
    --------
    >>> judge_od_in_socket("1/2", 0.840).word, judge_od_in_socket("1/2", 0.625).word
    ('snug', 'falls off')
    """
    nominal_in(nominal)
    socket = sockets().get(nominal)
    if socket is None:
        raise OutOfRange(
            "pipe.nominal",
            nominal,
            say("No socket of size {given} is in the table.", given=nominal),
            say("It lists these, in inches: {sizes}.", sizes=", ".join(sockets())),
        )
    u_in = usual_u_od_in() if u_od_in is None else u_od_in
    require(u_in, "pipe.u_od", at_least=0.0, unit="in")
    low, high = socket.pipe_od_in - socket.pipe_od_tol_in, socket.pipe_od_in + socket.pipe_od_tol_in
    beyond = max(low - od_in, od_in - high, 0.0)
    legal_in = min(max(od_in, low), high)
    stop = dry_fit_stop(socket.entrance_in, socket.bottom_in, legal_in)
    if beyond > 2 * u_in + 1e-9:
        return judge_dry_fit("falls off" if od_in < low else "tight")
    found = _UNSURE if beyond > u_in + 1e-9 else judge_dry_fit(stop)
    spread = (socket.diameter_tol_in + u_in) / (socket.entrance_in - socket.bottom_in)
    return replace(found, stop_low=max(0.0, stop - spread), stop_high=min(1.0, stop + spread))
