"""The working of a transition, and the sentence where nothing serves."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.engine.choosing.assembly import Assembly
from fieldkit.engine.choosing.break_even import BreakEven
from fieldkit.engine.choosing.refusals import no_such_size
from fieldkit.engine.choosing.rules import CURE_FOR_PSI, RATED_AT_F, WANTS, Need, sizes
from fieldkit.engine.strength import load_figure, rating_figure, share_of_limit
from fieldkit.engine.words import Figure, Text, join, say
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.materials import HeatFactor

PRACTICE = "common practice, no source"


def work_lines(
    need: Need, found: Sequence[Assembly], heat: HeatFactor, pairs: Sequence[BreakEven]
) -> tuple[Line, ...]:
    """What was assumed, and the sums of the first assembly of the list."""
    lines = list(_assumed(need))
    lines.append(
        worked("strength_left_in_heat", heat.factor, rests=heat, T=Figure(need.hottest_f, "°F"))
    )
    if not found:
        return tuple(lines)
    best = found[0]
    lines += [
        worked(
            "minutes_of_work",
            best.minutes,
            {
                f"{i} {one.kind}": precise(one.minutes, "min")
                for i, one in enumerate(best.joints, 1)
            },
        ),
        worked(
            "pressure_held",
            best.holds_psi,
            {
                f"{i} {one.kind}": precise(one.holds_psi, "psi")
                for i, one in enumerate(best.joints, 1)
            },
        ),
        worked(
            "wait_before_pressure",
            best.wait_minutes,
            {"cement joints": best.welds, "coldest in the cure": Figure(need.curing_f, "°F")},
        ),
        worked("order_by_cost" if "cheapest" in need.wants else "order_by_merit", None),
    ]
    if need.pressure_psi is not None:
        share = share_of_limit(need.surge_psi)
        lines.append(
            worked(
                "least_that_leaves_room",
                need.room_psi,
                rests=share,
                pressure=precise(need.pressure_psi, "psi"),
                share=precise(share.value),
            )
        )
    if best.cost is not None:
        lines.append(
            worked(
                "cost_of_parts_guessed" if need.prices_illustrative else "cost_of_parts",
                best.cost,
                {
                    part.id: precise(part.count * (need.prices or {}).get(part.id, 0.0), "$")
                    for part in best.parts
                },
            )
        )
    lines += [
        Line(
            say("break-even of {many} against {few}", many=pair.many, few=pair.few),
            "N = F / (saving − R m / 60); the next whole number above it"
            if pair.exact is not None
            else "rule: it never pays where the saving is not over R m / 60",
            {
                "F": precise(pair.one_off, "$"),
                "saving": precise(pair.saved_each, "$"),
                "R": precise(pair.labour_per_hour, "$/h"),
                "m": precise(pair.extra_minutes, "min"),
            },
            pair.exact,
            "joints",
            "statics",
            "computed",
        )
        for pair in pairs
    ]
    return tuple(lines)


def _assumed(need: Need) -> list[Line]:
    lines = []

    def assume(name: str, value: float | str, unit: str, source: str, status: str) -> None:
        lines.append(Line(name, "not given", {}, value, unit, source, status))

    if need.class_assumed:
        assume("class of the pipe", need.pipe_class, "", "fieldkit-rule", PRACTICE)
    if need.temperature_f is None:
        assume("temperature in use", RATED_AT_F, "°F", "astm-d1785", "secondary")
    if need.pressure_psi is None:
        assume("pressure for the cure", CURE_FOR_PSI, "psi", "fieldkit-rule", PRACTICE)
    if need.humidity_pct is None:
        assume("humidity in the cure", "60 % or less", "", "cement-guide-b", "secondary")
    return lines


def advice(need: Need, nearest: Sequence[Assembly]) -> Text:
    """What stands in the way where nothing serves, and what would help."""
    if need.nominal not in sizes():
        return say("{why} Step the pipe down first.", why=no_such_size(need))
    if not nearest:
        if need.only is not None:
            return say("The parts at hand do not make this joint: see what does not fit.")
        return say("No listed part holds this tubing here: see the reasons, and measure again.")
    strongest = max(one.holds_psi for one in nearest)
    if need.pressure_psi is not None and strongest < need.pressure_psi:
        if strongest < 10:
            return say("Nothing listed holds {asked} here: cool or shade it.", asked=_psi(need))
        setting = regulated(need, strongest)
        if need.hottest_f > RATED_AT_F:
            return say(
                "Nothing listed holds {asked} on this tubing. Fit a pressure regulator to {set} or "
                "less. Shade makes it stronger.",
                asked=_psi(need),
                set=setting,
            )
        return say(
            "Nothing listed holds {asked} on this tubing. Fit a pressure regulator to {set} or "
            "less.",
            asked=_psi(need),
            set=setting,
        )
    wanted = join((WANTS[one] for one in WANTS if one in need.wants and one != "cheapest"), ", ")
    return say(
        "Nothing does all that was wanted ({wanted}). See the nearest, and what each lacks.",
        wanted=wanted,
    )


def regulated(need: Need, holds_psi: float) -> Figure:
    """The setting of a regulator that leaves room under what a joint holds."""
    return rating_figure(holds_psi * share_of_limit(need.surge_psi).value)


def too_close(need: Need, strongest_psi: float) -> Text:
    """What is said where all that fits holds, but with no room to spare."""
    figures = {
        "holds": rating_figure(strongest_psi),
        "asked": _psi(need),
        "room": load_figure(need.room_psi),
        "set": regulated(need, strongest_psi),
    }
    if need.surge_psi is None:
        return say(
            "Too close: the strongest way here holds {holds}, and {asked} with a surge not known "
            "needs {room}. Fit a pressure regulator to {set} or less.",
            **figures,
        )
    return say(
        "Too close: the strongest way here holds {holds}, and {asked} needs {room}. "
        "Fit a pressure regulator to {set} or less.",
        **figures,
    )


def _psi(need: Need) -> Figure:
    return load_figure(need.pressure_psi or 0.0)
