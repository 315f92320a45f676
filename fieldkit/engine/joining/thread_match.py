"""Which thread is which, and why two of them never seal together."""

from __future__ import annotations

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.threads import Thread, threads, threads_of

#: Names of thread forms a person may give, in plain words.
FORMS = {
    "npt": "tapered pipe thread (NPT)",
    "hose": "garden hose thread",
    "swivel": "straight swivel nut with a washer (NPSH)",
    "fire hose": "fire hose thread",
    "g": "straight pipe thread, 55° (G)",
    "r": "tapered pipe thread, 55° (R)",
}

_HOSE_TO_PIPE = say("Use a molded adapter, hose thread one side and pipe thread the other.")

#: The part that joins two forms, by the two forms.
ADAPTERS: dict[frozenset[str], Text] = {
    frozenset(("npt", "hose")): say(
        "Use a molded hose-to-pipe adapter, or a swivel nut with washer on the male pipe thread."
    ),
    frozenset(("swivel", "hose")): _HOSE_TO_PIPE,
    frozenset(("npt", "fire hose")): say("Use an adapter made for fire hose to pipe thread."),
    frozenset(("hose", "fire hose")): say("Use an adapter made for fire hose to garden hose."),
    frozenset(("npt", "g")): say("Use an adapter made from G to tapered pipe thread."),
    frozenset(("hose", "g")): say("Use an adapter made from G to hose thread."),
    frozenset(("swivel", "g")): say("Use an adapter made from G to tapered pipe thread."),
    frozenset(("swivel", "fire hose")): say("Use an adapter made for fire hose to pipe thread."),
    frozenset(("g", "fire hose")): say("Use an adapter made for fire hose to G."),
    frozenset(("npt", "r")): say("Use an adapter made from R to NPT pipe thread."),
    frozenset(("hose", "r")): say("Use an adapter made from R to hose thread."),
    frozenset(("swivel", "r")): say("Use an adapter made from R to NPT pipe thread."),
    frozenset(("fire hose", "r")): say("Use an adapter made for fire hose to R."),
    frozenset(("g", "r")): say("Use a G male with a washer in a G female, or R in Rc or Rp."),
    frozenset(("npt", "swivel")): say("A swivel nut goes on a male pipe thread of its size."),
    frozenset(("swivel",)): say("A swivel nut goes on a male pipe thread of its size."),
}

_IDS = {
    ("hose", "male"): "hose-male",
    ("hose", "female"): "hose-female",
    ("fire hose", "male"): "fire-hose-3/4",
    ("fire hose", "female"): "fire-hose-3/4",
    ("swivel", "male"): "swivel-3/4",
    ("swivel", "female"): "swivel-3/4",
}


def thread_of(form: str, size: str, side: str) -> Thread:
    """The row of a thread by form, trade size and side.

    Parameters
    ----------
    form : str
        One of ``FORMS``.
    size : str
        Trade size; hose, fire hose and swivel threads are listed in ¾ only.
    side : str
        ``male`` or ``female``.

    Returns
    -------
    Thread
        Its row.

    Raises
    ------
    OutOfRange
        The table has no such thread.

    Source
    ------
    asme-b1-20-1, asme-b1-20-7, nfpa-1963, iso-228-1, iso-7-1.

    Examples
    --------
    >>> thread_of("hose", "3/4", "male").tpi, thread_of("npt", "3/4", "male").tpi
    (11.5, 14.0)
    """
    if form not in FORMS:
        raise OutOfRange(
            f"{side}_thread",
            form,
            say("This kind of thread is not listed."),
            say("Choose one of: {names}.", names=", ".join(FORMS)),
        )
    own = _IDS.get((form, side))
    listed = threads_of(form) if own is None else {"3/4": threads()[own]}
    if size not in listed:
        raise OutOfRange(
            "size",
            size,
            say("The {form} is not listed in size {size}.", form=FORMS[form], size=size),
            say("It is listed in: {sizes}.", sizes=", ".join(listed)),
        )
    return listed[size]


def does_not_match(male: Thread, female: Thread) -> Text | None:
    """Why two threads never seal together, or None when they do.

    Parameters
    ----------
    male : Thread
        The outside thread.
    female : Thread
        The inside thread.

    Returns
    -------
    Text or None
        One plain sentence.

    Source
    ------
    asme-b1-20-1 clause 1.2: a swivel nut goes on a male taper thread of its size.

    Examples
    --------
    >>> does_not_match(thread_of("npt", "3/4", "male"), thread_of("swivel", "3/4", "female"))
    """
    if male.form == female.form != "swivel" or (male.form, female.form) == ("npt", "swivel"):
        return None
    if male.form == "swivel":
        return say("A swivel nut is a female part: it goes over a male pipe thread.")
    if male.tpi != female.tpi:
        return say(
            "They do not match: {m} threads to the inch into {f}. They bind in a turn or two.",
            m=Figure(male.tpi, "", 0 if male.tpi.is_integer() else 1),
            f=Figure(female.tpi, "", 0 if female.tpi.is_integer() else 1),
        )
    return say("They start on each other, but differ in angle or taper, and never seal.")
