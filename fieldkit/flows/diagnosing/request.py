"""What people and the job's log tell of a leak, read into answers of the diagnosis."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from fieldkit.engine.diagnosing.diagnose import Diagnosis, diagnose
from fieldkit.engine.diagnosing.signs import Setting, option_for
from fieldkit.engine.joining.cement import cure_time
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Text, say
from fieldkit.tables.diagnosis import causes, options, questions
from fieldkit.tables.fittings import End, fit_windows, fittings, joints
from fieldkit.typed import answers
from fieldkit.typed.given import kept, shown
from fieldkit.typed.request import Request

Facts = Mapping[str, Any]

#: Words that all say: asked, and not known.
_CANT_TELL = frozenset({"", "unknown", "can't tell", "can’t tell", "cant tell", "not sure", "?"})

#: Simple words of a request's ``job`` → the fact they stand for, with its unit if it has one.
_SIMPLE: Mapping[str, tuple[str, str]] = {
    "pressure": ("site.pressure_psi", "psi"),
    "static_pressure": ("site.pressure_psi", "psi"),
    "pressure_psi": ("site.pressure_psi", "psi"),
    "temperature": ("site.temperature_f", "°F"),
    "temperature_f": ("site.temperature_f", "°F"),
    "tube_od": ("tube.od_in", "in"),
    "tubing_od": ("tube.od_in", "in"),
    "tube_bore": ("tube.bore_in", "in"),
    "tubing_bore": ("tube.bore_in", "in"),
    "pipe_od": ("pipe.od_in", "in"),
    "nominal": ("pipe.nominal", ""),
    "pipe_nominal": ("pipe.nominal", ""),
    "fitting": ("parts.joints", ""),
    "joint": ("parts.joints", ""),
    "joints": ("parts.joints", ""),
    "fitting_size": ("fitting_size", ""),
    "turns": ("thread.turns", "turns"),
    "turns_past_hand_tight": ("thread.turns", "turns"),
    "sealant": ("thread.sealant", ""),
    "primer": ("weld.primer", ""),
    "cement_temperature": ("weld.temperature_f", "°F"),
    "cement_temp": ("weld.temperature_f", "°F"),
    "humidity": ("weld.humidity_pct", "%"),
    "cure_hours": ("weld.hours", "h"),
    "made_at": ("weld.made_at", ""),
    "pressurised_at": ("weld.pressurised_at", ""),
}

#: The same for facts given under their own names: the unit that a text is read in.
_UNITS = {name: unit for name, unit in _SIMPLE.values() if unit}


# ── One answer ───────────────────────────────────────────────────────────────────────────────


def _plainly(text: str) -> str:
    return re.sub(r"[\s_-]+", " ", text).strip().casefold()


def read_one(question: str, given: object, *, field: str) -> str | float | None:
    """One answer: an option's id or its words, a quantity, or None for can't tell.

    Raises
    ------
    Problem
        It is none of these.
    """
    if given is None or (isinstance(given, str) and given.strip().casefold() in _CANT_TELL):
        return None
    own = options()[question]
    if isinstance(given, bool):
        given = "yes" if given else "no"
    if isinstance(given, str):
        words = _plainly(given)
        for option in own:
            if words in (_plainly(option.option_id), _plainly(option.label)):
                return option.option_id
    row = questions()[question]
    if row.kind == "number":
        return answers.read_quantity(given, row.unit, field=field)
    raise Problem(
        field,
        kept(given),
        say("“{given}” is not an answer of this question.", given=shown(given)),
        say("Choose one of: {names}.", names=", ".join(o.option_id for o in own)),
    )


def _values(given: object, field: str, wrong: Text, example: str) -> Mapping[Any, Any]:
    """Named values of a request; none where nothing was sent."""
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        raise Problem(field, kept(given), wrong, say("Send {example}.", example=example))
    return given


def read_answers(given: object) -> dict[str, str | float | None]:
    """All answers of a request, by question id.

    Raises
    ------
    Problem
        A question or an answer is not known.
    """
    values = _values(
        given, "answers", say("This is not a set of answers."), '{"fitting_type": "barb"}'
    )
    found = {}
    for name, value in values.items():
        question = _plainly(str(name)).replace(" ", "_")
        if question not in questions():
            raise Problem(
                f"answers.{str(name)[:40]}",
                kept(value),
                say("There is no question of that name."),
                say("Choose one of: {names}.", names=", ".join(questions())),
            )
        found[question] = read_one(question, value, field=f"answers.{question}")
    return found


# ── What the job knows ───────────────────────────────────────────────────────────────────────


def read_job(given: object) -> dict[str, Any]:
    """A request's ``job``: facts by their own names, nested or dotted, or in simple words.

    Raises
    ------
    Problem
        It is not a set of facts, or a quantity cannot be read.
    """
    values = _values(given, "job", say("This is not a set of facts."), '{"pressure": "52 psi"}')
    flat: dict[str, Any] = {}
    for name, value in values.items():
        if isinstance(value, Mapping) and name not in ("assembly", "parts.assembly"):
            flat |= {f"{name}.{inner}": one for inner, one in value.items()}
        else:
            flat[str(name)] = value
    facts: dict[str, Any] = {}
    for name, value in flat.items():
        fact, unit = _SIMPLE.get(name.replace(".", "_"), (name, ""))
        unit = unit or _UNITS.get(fact, "")
        if value is None or value == "":
            continue
        key = f"job.{name[:40]}"
        facts[fact] = answers.read_quantity(value, unit, field=key) if unit else value
    return facts


@dataclass(frozen=True, slots=True)
class JobSays:
    """What the log knows of a joint of this type: answers, and what numbers are held against.

    ``closed``: questions that need not be put, since the fitting is not made for what they ask.
    """

    given: dict[str, str | float | None]
    setting: Setting
    closed: frozenset[str] = frozenset()


def joint_types(facts: Facts) -> tuple[str, ...]:
    """The types of joint that the log says were made here, once each."""
    kinds = facts.get("parts.joints") or facts.get("tube_end.kind") or ()
    kinds = [kinds] if isinstance(kinds, str) else kinds
    known = {o.option_id for o in options()["fitting_type"]}
    names = (joints()[k].diagnosed_as if k in joints() else str(k) for k in kinds)
    return tuple(dict.fromkeys(name for name in names if name in known))


def from_facts(facts: Facts, joint: str = "") -> JobSays:
    """Answers that the job's log gives, for a joint of type ``joint`` (empty: not told).

    An assembly has welds, threads and tube ends: what the log knows of the welds says nothing of
    a leaking barb, so only what belongs to a joint of this type is used.
    """
    made = joint_types(facts)
    found: dict[str, str | float | None] = {}
    if not joint and len(made) == 1:
        joint = made[0]
        found["fitting_type"] = joint
    if not joint:
        found |= _mismatches(facts, made)
    end = _tube_end(facts, joint)
    window = fit_windows().get(end) if end is not None else None
    idle = {"OD": "id_gap_in", "ID": "od_gap_in"}.get(window.measure if window else "")
    readers: Mapping[str, Callable[[], str | float | None]] = {
        "static_psi": lambda: _number(facts, "site.pressure_psi"),
        "turns_past_hand": lambda: _number(facts, "thread.turns"),
        "cement_temp_f": lambda: _number(facts, "weld.temperature_f"),
        "hours_since_cement": lambda: _hours_to_pressure(facts),
        "primer_used": lambda: _PRIMER.get(_word(facts, "weld.primer")),
        "dry_fit": lambda: _DRY_FIT.get(_word(facts, "weld.dry_fit")),
        "thread_parts": lambda: _thread_pair(facts, joint),
        "thread_sealant": lambda: _SEALANTS.get(_word(facts, "thread.sealant")),
        "od_gap_in": lambda: _gap(facts, end, "OD"),
        "id_gap_in": lambda: _gap(facts, end, "ID"),
        "hold_down": lambda: _hold_down(facts, joint),
    }
    for question, read in readers.items():
        asked_of = questions()[question].ask_when
        if asked_of and joint not in asked_of:
            continue
        value = read()
        if value is not None:
            found[question] = value
    closed = {idle} if idle else set[str]()
    if "fitting_size" in facts and end is None:  # asked, and there is nothing to read on it
        closed |= {"od_gap_in", "id_gap_in"}
    return JobSays(found, setting_of(facts, joint, end), frozenset(closed - found.keys()))


def _mismatches(facts: Facts, made: Iterable[str]) -> dict[str, str | float | None]:
    """Gaps outside the window of a tube end that was made here: evidence whichever joint leaks.

    A size that fits is none: it says nothing of which joint it is.
    """
    found: dict[str, str | float | None] = {}
    for joint in made:
        end = _tube_end(facts, joint)
        for question, measure in GAPS.items():
            gap = _gap(facts, end, measure)
            setting = setting_of(facts, joint, end)
            if gap is not None and option_for(question, gap, setting)[0] != "match":
                found[question] = gap
    return found


#: The questions of how a tube fits its end, and which of its sizes each is about.
GAPS: Mapping[str, str] = {"od_gap_in": "OD", "id_gap_in": "ID"}

#: The fact that holds each of those sizes of the tube.
TUBE_SIZES: Mapping[str, str] = {"od_gap_in": "tube.od_in", "id_gap_in": "tube.bore_in"}


_PRIMER = {"true": "yes", "required": "yes", "yes": "yes", "used": "yes",
           "false": "no", "none": "no", "no": "no"}  # fmt: skip
_DRY_FIT = {"snug": "snug_third", "tight": "will_not_enter", "bottoms": "bottoms",
            "deep": "snug_third", "falls off": "loose"}  # fmt: skip
_SEALANTS = {"tape": "right", "paste": "right", "none": "none", "washer": "not_needed",
             "tape and paste": "heavy_or_backwards", "oil paste": "oily_or_unlabelled"}  # fmt: skip


def _thread_pair(facts: Facts, joint: str) -> str | None:
    """What is screwed into what, where the parts chosen tell; a riser's own thread they do not."""
    assembly = facts.get("parts.assembly")
    made = assembly.get("joints", ()) if isinstance(assembly, Mapping) else ()
    screwed = [
        one["between"]
        for one in made
        if isinstance(one, Mapping) and one.get("kind") == "npt" and "between" in one
    ]
    if joint != "npt_thread" or not screwed:
        return None
    rows = [fittings().get(str(part)) for both in screwed for part in both]
    # No listed part has a thread of metal, nor one that was cut on pipe.
    return None if None in rows else "moulded_pair"


def _word(facts: Facts, name: str) -> str:
    """A fact that is a word, in small letters; empty where it is not known, which is not "none"."""
    value = facts.get(name)
    return "" if value is None else str(value).casefold()


def _number(facts: Facts, name: str) -> float | None:
    value = facts.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def setting_of(facts: Facts, joint: str = "", end: End | None = None) -> Setting:
    """What numbers are held against: the facts, or the usual values."""
    told = {
        "temperature_f": _number(facts, "site.temperature_f"),
        "cure_temperature_f": _number(facts, "weld.temperature_f"),
        "humidity_pct": _number(facts, "weld.humidity_pct"),
        "pressure_psi": _number(facts, "weld.pressure_psi"),
    }
    known: dict[str, Any] = {name: value for name, value in told.items() if value is not None}
    nominal = facts.get("pipe.nominal")
    if isinstance(nominal, str) and _is_listed(nominal):
        known["nominal"] = nominal
    if not _is_listed(known.get("nominal", Setting().nominal), known.get("pressure_psi", 0.0)):
        del known["pressure_psi"]
    screwed = facts.get("thread.size") or nominal
    if isinstance(screwed, str):
        known["thread_size"] = screwed
    return replace(Setting(joint=joint, size="" if end is None else end.size), **known)


def _is_listed(nominal: str, pressure_psi: float = 0.0) -> bool:
    """Whether the cement schedules list it; if not, the cure is that of the usual joint."""
    usual = Setting()
    try:
        cure_time(nominal, usual.cure_temperature_f, usual.humidity_pct, pressure_psi)
    except OutOfRange:
        return False
    return True


def _tube_end(facts: Facts, joint: str) -> End | None:
    """The end that holds the tube, from the parts chosen or from a size told outright."""
    kind = {"ring": "ring", "barb": "barb", "collar": "collar"}.get(joint)
    if kind is None:
        return None
    told = facts.get("fitting_size")
    if told not in (None, ""):
        size = re.sub(r" ?(in|inch)\.?$", "", str(told).strip())
        return End(kind, f"{float(size):.3f}" if re.fullmatch(r"\d?\.\d+", size) else size)
    assembly = facts.get("parts.assembly")
    parts = assembly.get("parts", ()) if isinstance(assembly, Mapping) else ()
    for part in parts:
        row = fittings().get(str(part.get("id"))) if isinstance(part, Mapping) else None
        for end in row.ends if row else ():
            if end.kind == kind:
                return end
    return None


def _gap(facts: Facts, end: End | None, measure: str) -> float | None:
    """Measured size less the size of the fitting; 0 inside the range that a fitting prints."""
    if end is None:
        return None
    window = fit_windows().get(end)
    measured = _number(facts, "tube.od_in" if measure == "OD" else "tube.bore_in")
    if measured is None:
        return None
    if window is None:  # a size that no table has is the size that is marked on it
        held = {"ring": "OD", "barb": "ID"}.get(end.kind)
        is_number = re.fullmatch(r"\d\.\d+", end.size) is not None
        return round(measured - float(end.size), 6) if is_number and held == measure else None
    if window.measure != measure:
        return None
    if "-" in end.size:
        low, high = window.low_in, window.high_in
        return min(0.0, measured - low) if measured < high else max(0.0, measured - high)
    name = end.size.split()[-1]
    marked = float(name) if "." in name else (window.low_in + window.high_in) / 2
    return round(measured - marked, 6)


def _hold_down(facts: Facts, joint: str) -> str | None:
    """Only a bare barb is certain: a clamp may have come loose since."""
    kinds = facts.get("parts.joints") or ()
    bare = "barb_bare" in kinds or facts.get("tube_end.kind") == "barb_bare"
    return "none" if joint == "barb" and bare else None


def _hours_to_pressure(facts: Facts) -> float | None:
    """Hours from the last weld to the first reading of a test."""
    told = _number(facts, "weld.hours")
    if told is not None:
        return told
    made = _moment(facts.get("weld.made_at"))
    readings = facts.get("test.readings") or ()
    first = facts.get("weld.pressurised_at") or next(
        (one.get("at") for one in readings if isinstance(one, Mapping)), None
    )
    pressed = _moment(first)
    if made is None or pressed is None or pressed < made:
        return None
    return (pressed - made).total_seconds() / 3600


def _moment(text: object) -> datetime | None:
    if not isinstance(text, str):
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo else None


# ── The calculation ──────────────────────────────────────────────────────────────────────────


def joint_said(given: Mapping[str, object]) -> str:
    """The type of joint that the person named, or nothing."""
    joint = given.get("fitting_type")
    return joint if isinstance(joint, str) else ""


def read_history(given: object) -> dict[str, int]:
    """How many earlier failures were proved to be which cause.

    Raises
    ------
    Problem
        It names no cause, or a count is not a whole number from 0 up.
    """
    values = _values(given, "history", say("This is not a set of counts."), '{"no_primer": 3}')
    for name, n in values.items():
        if name not in causes():
            raise Problem(
                f"history.{str(name)[:40]}",
                kept(n),
                say("There is no cause of that name."),
                say("Choose one of: {names}.", names=", ".join(causes())),
            )
    return {
        name: answers.read_whole(n, field=f"history.{name}", at_least=0, at_most=MOST_FOUND)
        for name, n in values.items()
    }


def read_counted(given: Mapping[str, Any]) -> dict[str, Any]:
    """What a kept diagnosis says that it counted, read again.

    Raises
    ------
    Problem
        A count is not a whole number from 0 up.
    """
    kinds = given.get("kinds")
    return {
        "found": read_history(given.get("found")),
        "kinds": {
            str(kind)[:80]: {
                name: answers.read_whole(
                    held.get(name, 0), field=name, at_least=0, at_most=MOST_FOUND
                )
                for name in ("made", "came_back")
            }
            for kind, held in (kinds.items() if isinstance(kinds, Mapping) else ())
            if isinstance(held, Mapping)
        },
        "on": "phone" if given.get("on") == "phone" else "server",
    }


#: No company has proved the cause of more failures than this.
MOST_FOUND = 1_000_000


def ask_diagnose(request: Request) -> Diagnosis:
    """Answer ``diagnose``: causes best first, the next question, and what speaks for and against.

    ``answers`` holds options or quantities by question id; ``job`` what the log knows. An answer
    wins over a fact. ``history`` holds how often which cause was proved before.
    """
    told = read_answers(request.raw("answers"))
    facts = read_job(request.raw("job"))
    says = from_facts(facts, joint_said(told))
    known = {q: value for q, value in says.given.items() if q not in told}
    return diagnose(
        {**known, **told},
        says.setting,
        from_job=frozenset(known),
        who=request.choice("who", ("homeowner", "technician"), default="") or "",
        enough=bool(request.flag("enough", default=False)),
        history=read_history(request.raw("history")),
        closed=says.closed,
    )
