"""Find a row of the pipe table by what a person calls it."""

from __future__ import annotations

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.words import say
from fieldkit.tables.pipes import Pipe, ips_pvc, nominal_inches


def rigid_pvc(nominal: str, pipe_class: str, field: str = "pipe") -> Pipe:
    """The rigid PVC pressure pipe (iron-pipe outside diameters) of a size and class.

    Parameters
    ----------
    nominal : str
        Trade size as ``pipes.csv`` writes it: ``"1/2"``, ``"1-1/4"``.
    pipe_class : str
        Class as ``pipes.csv`` writes it: ``"Sch 40"``, ``"SDR 21"``.
    field : str
        The request's key of the pipe; ``.nominal`` or ``.class`` is put behind it.

    Returns
    -------
    Pipe
        The row, with its source.

    Raises
    ------
    OutOfRange
        There is no such size, or no such class in this size: the sentence lists what there is.

    Source
    ------
    astm-d1785 for Sch 40 and 80, astm-d2241 for SDR classes. Status: secondary.

    Examples
    --------
    >>> rigid_pvc("1/2", "Sch 40").od_in
    0.84
    >>> rigid_pvc("1/2", "SDR 21")
    Traceback (most recent call last):
        ...
    fieldkit.engine.problems.OutOfRange: There is no SDR 21 pipe in 1/2 in. In 1/2 in. there is \
Sch 40, Sch 80, SDR 13.5.
    """
    found = ips_pvc().get((nominal, pipe_class))
    if found is not None:
        return found
    in_size = tuple(c for n, c in ips_pvc() if n == nominal)
    if not in_size:
        sizes = sorted({n for n, _ in ips_pvc()}, key=nominal_inches)
        raise OutOfRange(
            f"{field}.nominal",
            nominal,
            say("{size} is not a rigid PVC pipe size listed here.", size=nominal[:40]),
            say("Sizes listed: {sizes} in.", sizes=", ".join(sizes)),
        )
    if not any(c == pipe_class for _, c in ips_pvc()):
        wrong = say("{kind} is not a rigid PVC pipe class listed here.", kind=pipe_class[:40])
    else:
        wrong = say("There is no {kind} pipe in {size} in.", kind=pipe_class, size=nominal)
    raise OutOfRange(
        f"{field}.class",
        pipe_class,
        wrong,
        say("In {size} in. there is {kinds}.", size=nominal, kinds=", ".join(in_size)),
    )
