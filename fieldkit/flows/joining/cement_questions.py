"""Guided: glue the rigid joints, step by step, and learn when they may see pressure."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from fieldkit.engine.cautions import caution
from fieldkit.engine.joining.cure_clock import Spell
from fieldkit.engine.joining.dry_fit import judge_dry_fit
from fieldkit.engine.joining.weld import Site, weld
from fieldkit.engine.joining.weld_parts import PVC_CLASSES, hold_seconds, insert_depth_in
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer
from fieldkit.flows.block import Drawing
from fieldkit.flows.checklist import makes
from fieldkit.flows.drawings import gluing
from fieldkit.flows.drawings.depth import depth_mark
from fieldkit.flows.facts import warmth_of_the_hour
from fieldkit.flows.flow import Flow
from fieldkit.flows.joining.acts import shut_off
from fieldkit.flows.joining.cement_page import learn, show
from fieldkit.flows.joining.ready import at_the_clock
from fieldkit.flows.pipe_asks import class_options, size_options
from fieldkit.flows.question import Choice, Confirm, Group, Known, Option, Quantity, Step, Timer
from fieldkit.tables.proving_rules import proving_value
from fieldkit.typed.moments import read_moment

SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4", "6", "8")

#: Windows of the forecast page: name, label, from and until after the joint [min].
WINDOWS = (
    ("first", say("Coldest in the next 6 h"), 0.0, 360.0),
    ("second", say("Coldest from 6 to 12 h on"), 360.0, 720.0),
    ("third", say("Coldest from 12 to 24 h on"), 720.0, 1440.0),
    ("fourth", say("Coldest from 24 to 48 h on"), 1440.0, 2880.0),
)

#: What air counts as when nobody can tell: damp, the slower side.
DAMP_PCT = 100.0

#: What the temperature counts as when nobody can tell: the coldest band, by its warmer edge.
COLD_F = 40.0


def _cements(known: Known) -> bool:
    return makes("cement")(known) and known.get("pipe.material") in {None, "", "pvc"}


def _may_cement(known: Known) -> bool:
    """Whether the parts are fit for cement: nobody primes a fit that was found bad."""
    return _cements(known) and known.get("dry_fit") not in {"tight", "falls off"}


def _can(known: Known) -> str:
    """What the can says: as answered here, else as the log has it of a joint like this one."""
    if "one_step" in known:
        return str(known["one_step"] or "")
    primer = str(known.get("weld.primer") or "")
    return {"": "", "none": "", "not needed": "one"}.get(primer, "two")


def _like_the_last(facts: Known) -> bool:
    """Whether one like it was glued, and this one was not."""
    return bool(_can(facts)) and facts.get("weld.made_at") is None


def _fit(known: Known) -> gluing.Fit:
    """Pipe and socket of this size, where its depth is in the tables."""
    nominal = str(known.get("size") or known.get("pipe.nominal") or "")
    wall = str(known.get("wall") or known.get("pipe.class") or "")
    found = insert_depth_in(nominal, wall) if nominal else None
    return gluing.Fit() if found is None else gluing.Fit(found.pipe_od_in, found.depth_in)


def _drawn(draw: Callable[[gluing.Fit], Drawing]) -> Callable[[Known], Drawing]:
    """An act's picture, made from what is known of pipe and socket."""
    return lambda known: draw(_fit(known))


def _mark_picture(known: Known) -> Drawing | None:
    fit = _fit(known)
    if fit.od_in is None or fit.depth_in is None:
        return None
    return depth_mark(fit.od_in, fit.depth_in)


def _hold_seconds(known: Known) -> float:
    temperature_f = known.get("temperature")
    return hold_seconds(COLD_F if temperature_f is None else float(temperature_f))


STEPS = (
    Step(
        "size",
        "What size is the largest pipe you glue?",
        Choice(size_options(*SIZES)),
        trade="nominal size",
        why="Larger joints take longer, so the largest sets the wait.",
        hint="It is printed along the pipe.",
        fact="pipe.nominal",
        when=_cements,
        short="Largest pipe",
    ),
    Step(
        "wall",
        "What wall has the pipe?",
        Choice(class_options("Sch 40", "Sch 80", "SDR 21", "SDR 26")),
        trade="schedule or class",
        why="A thick wall takes a heavy cement and deeper sockets.",
        hint="It is printed along the pipe.",
        fact="pipe.class",
        when=_cements,
        cant_tell="I can’t tell: plan for a thick wall",
        sources=("cement-body-article",),
        short="Wall",
    ),
    Step(
        "temperature",
        "How cold are the parts and the air?",
        Quantity(
            "°F",
            at_least=0.0,
            at_most=100.0,
            common=(
                ("35 F", "Near freezing"),
                ("50 F", say("Cool: {heat}", heat=Figure(50.0, "°F"))),
                ("70 F", say("Mild: {heat}", heat=Figure(70.0, "°F"))),
            ),
        ),
        trade="coldest temperature while joining",
        why="Cold cement sets and cures far slower.",
        hint="Take the colder of pipe and air.",
        when=_cements,
        caution=("cement_weather",),
        cant_tell="I can’t tell: plan for the cold",
        sources=("cement-guide-a", "cement-guide-b"),
        short="How cold it is",
        likely=partial(warmth_of_the_hour, fact="site.gluing_f", at="site.gluing_at"),
    ),
    Step(
        "sun",
        "Does the sun shine on the pipe?",
        Choice(
            (
                Option("no", "No: shaded, or no sun today", "shaded"),
                Option("yes", "Yes, it lies bare", "exposed"),
            )
        ),
        trade="exposure",
        why="On a hot pipe cement skins over before the joint is closed.",
        when=_cements,
        cant_tell="I can’t tell: take full sun",
        sources=("trade",),
        short="Sun on the pipe?",
        folded=True,
    ),
    Step(
        "humidity",
        "Is the air damp?",
        Quantity(
            "%",
            at_least=0.0,
            at_most=100.0,
            common=(("60 %", "Dry: 60 % or less"), ("100 %", "Damp: rain, fog or dew")),
        ),
        trade="relative humidity",
        why="Above 60 % cement needs half again as long.",
        when=_cements,
        cant_tell="I can’t tell: plan for damp",
        sources=("cement-guide-b",),
        short="Damp air?",
        folded=True,
    ),
    Step(
        "pressure",
        "What is the highest pressure the joint will see?",
        Quantity(
            "psi",
            at_least=0.0,
            at_most=370.0,
            common=(
                ("60 psi", say("Up to {limit}", limit=Figure(60.0, "psi"))),
                "100 psi",
                "150 psi",
            ),
        ),
        trade="test or working pressure, the higher",
        why="A higher pressure needs a longer cure.",
        hint="Count the test too: it is often one and a half times the working pressure.",
        fact="test.pressure_psi",
        when=lambda known: (
            _cements(known) and ("pressure" in known or known.get("site.pressure_psi") is None)
        ),
        cant_tell=say("I can’t tell: plan for {pressure}", pressure=Figure(160.0, "psi")),
        sources=("cement-guide-a", "cement-guide-b"),
        short="Highest pressure",
        folded=True,
    ),
    Step(
        "forecast",
        "How cold will it get in the next two days?",
        Group(tuple((name, label, "°F") for name, label, _, _ in WINDOWS)),
        trade="forecast lows",
        why="The coldest hour before it is cured sets how long it takes.",
        hint="Fill in what you know, from the top.",
        when=_cements,
        cant_tell="I can’t tell: use the temperature now",
        sources=("fieldkit-rule",),
        short="Coldest in two days",
        folded=True,
    ),
    Step(
        "one_step",
        "What does the can say?",
        Choice(
            (
                Option("two", "Cement, with a can of primer", "two-step"),
                Option("one", "No primer needed", "one-step"),
            )
        ),
        trade="cement and primer",
        why="Primer is required on pressure joints with ordinary cement.",
        when=lambda known: _cements(known) and ("one_step" in known or not _can(known)),
        cant_tell="I can’t tell: use primer",
        sources=("astm-d2855",),
        short="The can says",
    ),
    shut_off(_cements),
    Step(
        "cut",
        "Cut the pipe square",
        Confirm("Cut"),
        trade="square cut",
        why="A slant leaves a gap at the bottom of the socket.",
        when=_cements,
        caution=("blade", "eyes"),
        picture=lambda known: gluing.square_cut(),
    ),
    Step(
        "deburr",
        "Take off the burr inside and out, bevel the outer edge, wipe both parts dry",
        Confirm("Smooth and dry"),
        trade="deburr and chamfer",
        why="A sharp edge scrapes the cement off. Water keeps it from bonding.",
        when=_cements,
        picture=lambda known: gluing.smooth_end(),
    ),
    Step(
        "dry_fit",
        "Push the parts together dry. How far does the pipe go in?",
        Choice(
            (
                Option("snug", "A third to two thirds of the way", "interference fit"),
                Option("tight", "Less than a third"),
                Option("deep", "More than two thirds, not to the bottom"),
                Option("bottoms", "To the bottom, but the fitting stays on", "net fit"),
                Option("falls off", "The fitting falls off", "loose fit"),
            )
        ),
        trade="dry fit",
        why="The taper must grip, or the cement has a gap to fill.",
        hint="Light hand force. Hold the pipe upright and see if the fitting stays on.",
        when=_cements,
        sources=("astm-d2855",),
        picture=_drawn(gluing.dry_fit),
        short="Pushed in dry, it goes",
    ),
    Step(
        "mark",
        "Mark the depth of the socket on the pipe",
        Confirm("Marked"),
        trade="insertion mark",
        why="The mark shows that the pipe went home.",
        hint="Measure the socket. Put a second mark further out: primer hides the first.",
        when=_may_cement,
        picture=_mark_picture,
    ),
    Step(
        "prime",
        "Prime socket, pipe, then socket again",
        Confirm("Primed and wet"),
        trade="primer",
        why="Primer softens the surface so that the parts fuse.",
        hint="Keep it wet until the cement is on.",
        when=lambda known: _may_cement(known) and _can(known) != "one",
        caution=("vapour", "vapour_box", "eyes"),
        picture=_drawn(gluing.prime),
    ),
    Step(
        "cement",
        "Cement the pipe fully, the socket thinly, the pipe once more",
        Confirm("Cement is on"),
        trade="solvent cement",
        why="The pipe needs most; a puddle in the socket eats thin parts.",
        hint="Work while the primer is wet. Throw away cement that strings or lumps.",
        when=_may_cement,
        caution=("vapour", "vapour_box", "no_cement_pe"),
        picture=_drawn(gluing.cement),
    ),
    Step(
        "push",
        "Push to the mark with a quarter turn, at once",
        Confirm("Home: start the hold"),
        trade="assemble",
        why="The turn spreads the cement. In heat it skins over sooner.",
        hint="Close it within 20 s. Keep your hands on it.",
        within=20,
        when=_may_cement,
        sources=("fieldkit-rule",),
        picture=_drawn(gluing.push_and_turn),
    ),
    Step(
        "hold",
        "Hold it still",
        Confirm("Held"),
        trade="hold",
        why="The taper pushes the pipe back out.",
        hint=say("30 s, or 60 s at {cold} and colder.", cold=Figure(60.0, "°F")),
        when=_may_cement,
        sources=("fieldkit-rule",),
        timer=Timer("push", _hold_seconds, "Hold until"),
        picture=_drawn(gluing.hold_still),
    ),
    Step(
        "wipe",
        "Look for an even bead all round, and wipe off the rest",
        Confirm("Even bead"),
        trade="bead",
        why="A gap in the bead is a dry spot.",
        when=_may_cement,
        caution=("weld_still",),
        picture=_drawn(gluing.even_bead),
    ),
    Step(
        "closed",
        "How long ago was the last joint closed?",
        Quantity(
            "min",
            at_least=0.0,
            at_most=14 * 1440.0,
            common=(("0 min", "Just now"), "30 min", "2 h"),
        ),
        trade="start of cure",
        why="The youngest joint is the weakest, so it starts the clock.",
        when=_may_cement,
        cant_tell="I can’t tell: count from now",
        short="Last joint closed how long ago",
        folded=True,
    ),
)


def spells_of(given: Known, temperature_f: float) -> tuple[tuple[Spell, ...], float | None]:
    """The forecast page as spells, and how far it reaches; a low left out takes the coldest.

    Examples
    --------
    >>> spells_of({"forecast": {"first": 50.0}}, 60.0)
    ((Spell(from_minutes=0.0, temperature_f=50.0),), 360.0)
    """
    lows: dict[str, float] = given.get("forecast") or {}
    if not lows:
        return (Spell(0.0, temperature_f),), None
    coldest = min(temperature_f, *lows.values())
    last = max(i for i, window in enumerate(WINDOWS) if window[0] in lows)
    spells = tuple(
        Spell(start, lows.get(name, coldest)) for name, _, start, _ in WINDOWS[: last + 1]
    )
    return spells, WINDOWS[last][3]


_STEP_OF = {
    "pipe.nominal": "size",
    "pipe.class": "wall",
    "temperature": "temperature",
    "humidity": "humidity",
    "pressure": "pressure",
}


def _work_out(given: Known, facts: Known) -> Answer:
    material = facts.get("pipe.material")
    if material not in {None, "", "pvc"}:
        return Answer(
            verdict="do_not_cement",
            headline=say("The rigid pipe is not PVC: do not glue it with PVC cement."),
            cautions=caution("no_cement_pe", "local_code"),
        )
    if not _cements(facts):
        return Answer(
            verdict="nothing_to_do", headline=say("The chosen parts have nothing to glue.")
        )
    size = given.get("size") or facts.get("pipe.nominal")
    if size is None:
        raise Problem(
            "size",
            None,
            say("Without the size there is no cure time."),
            say("Measure across the pipe, or read its print, and pick the size."),
        )
    wall = given.get("wall") or facts.get("pipe.class") or ""
    try:
        joint = weld(str(size), wall if wall in PVC_CLASSES else "", _site(given, facts))
    except OutOfRange as found:
        step = "forecast" if found.field.startswith("forecast") else found.field
        raise found.at(_STEP_OF.get(step, step)) from None
    now = facts.get("now")
    if not now:
        return joint
    ago = float(given.get("closed") or 0.0)
    return at_the_clock(joint, read_moment(str(now), field="closed").earlier(ago))


def _site(given: Known, facts: Known) -> Site:
    """Where and how the joint is made; what nobody told is taken on the slow side."""
    temperature_f = given.get("temperature")
    cold_f = COLD_F if temperature_f is None else float(temperature_f)
    spells, until = spells_of(given, cold_f)
    humidity_pct = given.get("humidity")
    pressure_psi = given.get("pressure", facts.get("test.pressure_psi"))
    if "pressure" not in given and pressure_psi is None and facts.get("site.pressure_psi"):
        # It is tested higher than it is used, and must have cured for that.
        pressure_psi = facts["site.pressure_psi"] * proving_value("working_factor")
    fit = given.get("dry_fit")
    return Site(
        spells=spells,
        until_minutes=until,
        humidity_pct=DAMP_PCT if humidity_pct is None else float(humidity_pct),
        pressure_psi=None if pressure_psi is None else float(pressure_psi),
        made_f=cold_f,
        one_step=_can({**facts, **given}) == "one",
        sun="sun" in given and given["sun"] != "no",
        dry_fit=None if fit is None else judge_dry_fit(str(fit)),
    )


JOIN_CEMENT = Flow(
    id="join-cement",
    title="Glue the rigid joints",
    trade="solvent weld",
    about="From the cut to the bead, and how long to wait before pressure.",
    together=(
        (
            *("size", "wall", "temperature", "one_step", "sun", "humidity", "pressure"),
            *("forecast", "shut", "cut", "deburr", "dry_fit", "mark"),
        ),
        ("prime", "cement", "push"),
        ("hold", "wipe", "closed"),
    ),
    pages=(
        "Get both ends ready",
        "With clean hands, in one go",
        "Hold it",
    ),
    at_once=_like_the_last,
    straight_on=lambda answer: "next" if answer.get("made_at") else "",
    steps=STEPS,
    work_out=_work_out,
    show=show,
    learn=learn,
    refusals={"change_part": ("dry_fit",), "shade_first": ("sun", "temperature")},
    cautions=("vapour", "no_cement_pe", "local_code"),
    then=("join-thread", "join-tube", "plan-test"),
)

FLOWS: tuple[Flow, ...] = (JOIN_CEMENT,)
