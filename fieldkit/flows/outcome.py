"""How a joint turned out, from its facts: where it stands now, and whether it came back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.words import Text, say
from fieldkit.flows.diagnosing.questions import SOUND
from fieldkit.flows.diagnosing.request import joint_types
from fieldkit.flows.halt import STOP_FACT
from fieldkit.flows.stops import stop_of
from fieldkit.tables.diagnosis import causes

Facts = Mapping[str, Any]

#: Facts that say that something of the joint was made, and by which the making is dated.
MADE = ("weld.made_at", "thread.verdict", "tube_end.verdict")

#: The facts that tell of a joint's making and failing.
TELLING_FACTS = (
    *MADE,
    "weld.temperature_f",
    "test.verdict",
    "leak.cause",
    "leak.really",
    "leak.joint",
)

#: Of kinds of joint that are not named in an assembly: what was made, by the fact that says so.
_KIND_OF = {"weld.made_at": "solvent_socket", "thread.verdict": "npt_thread"}

_ILL_MADE = ("thread.verdict", "tube_end.verdict")


def state_of(facts: Facts) -> str:
    """Where a joint stands: ``leaks``, ``untested``, ``holds`` or ``begun`` (nothing is made yet).

    What was stopped stands with what leaks.

    Examples
    --------
    >>> state_of({"weld.made_at": "2026-05-01T08:00:00Z"}), state_of({"test.verdict": "leaks"})
    ('untested', 'leaks')
    """
    if is_stopped(facts) or leaks(facts) or _ill_made(facts):
        return "leaks"
    if facts.get("test.verdict") == "holds":
        return "holds"
    return "untested" if _made(facts) or _cause(facts) else "begun"


def is_stopped(facts: Facts) -> bool:
    """Whether the work on it was stopped, by what it is or by what was found."""
    return facts.get(STOP_FACT) is not None or stop_of(facts) is not None


def leaks(facts: Facts) -> bool:
    """Whether it leaks or came off, and is not mended since."""
    verdict = facts.get("test.verdict")
    unmended = bool(_cause(facts)) and facts.get("leak.mended_at") is None
    return verdict == "leaks" or (unmended and verdict != "holds")


def _ill_made(facts: Facts) -> bool:
    return any(facts.get(one) not in {None, "", "ok"} for one in _ILL_MADE)


def standing_words(facts: Facts, now: str) -> tuple[str, Text]:
    """Where a joint stands, for people: the tone (holds, look or stop) and a word or two.

    Examples
    --------
    >>> standing_words({"test.verdict": "leaks"}, "")
    ('stop', 'Leaks')
    >>> cures = {"weld.made_at": "2026-05-01T08:00:00Z", "weld.ready_at": "2026-05-01T12:00:00Z"}
    >>> standing_words(cures, "2026-05-01T09:00:00.000Z")
    ('look', 'Curing')
    """
    match state_of(facts):
        case "leaks" if is_stopped(facts):
            return "stop", say("Stopped")
        case "leaks" if leaks(facts):
            return "stop", say("Leaks")
        case "leaks":
            return "stop", say("Not passed")
        case "holds":
            return "holds", say("Holds")
        case "begun":
            return "look", say("Not made yet")
    if str(facts.get("weld.ready_at") or "")[:19] > now[:19]:
        return "look", say("Curing")
    return "look", say("Repaired, not tested") if facts.get("leak.mended_at") else say("Not tested")


def _cause(facts: Facts) -> str:
    """The cause that was found or is thought likely; none where the joint was sound."""
    cause = facts.get("leak.really") or facts.get("leak.cause")
    return "" if cause in {None, SOUND} else str(cause)


def _made(facts: Facts) -> bool:
    return any(facts.get(one) is not None for one in MADE)


def kinds_of(facts: Facts) -> tuple[str, ...]:
    """The kinds of joint in it, as the diagnosis calls them; those that are known."""
    named = joint_types(facts)
    return named or tuple(kind for fact, kind in _KIND_OF.items() if facts.get(fact) is not None)


def parts_of(facts: Facts) -> tuple[str, ...]:
    """The parts of its assembly, by id."""
    assembly = facts.get("parts.assembly")
    if not isinstance(assembly, Mapping):
        return ()
    parts: Iterable[Mapping[str, Any]] = assembly["parts"]
    return tuple(sorted(str(part["id"]) for part in parts))


def is_to_buy(facts: Facts, times: Mapping[str, str]) -> bool:
    """Whether its parts are chosen and nothing was made since. ``times`` is when, by fact."""
    chosen = times.get("parts.assembly", "") if facts.get("parts.assembly") else ""
    if not chosen or facts.get("test.verdict") == "holds":
        return False
    return all(times.get(one, "") < chosen for one in MADE if facts.get(one) is not None)


@dataclass(frozen=True, slots=True)
class Return:
    """The first failure of a joint that was made here, and how it had been made."""

    kind: str = ""
    cause: str = ""
    opened: bool = False  # somebody looked, and the cause is no longer a guess
    heat_f: float | None = None
    made_by: str = ""
    made: bool = False
    failed: bool = False


def returned(taught: Iterable[tuple[str, Facts]]) -> Return:
    """Whether a joint came back, from who taught which facts, oldest first.

    How it had been made is taken as it was before it failed: a joint that is made anew in better
    weather failed in the weather of the first time.
    """
    facts: dict[str, Any] = {}
    maker, held = "", Return()
    for who, new in taught:
        facts |= new
        if any(new.get(one) is not None for one in MADE):
            maker = who
        if not held.failed:
            made, heat = _made(facts), facts.get("weld.temperature_f")
            failed = facts.get("test.verdict") == "leaks" or bool(_cause(facts))
            held = Return("", "", False, heat, maker, made, failed)
        if held.failed and not held.opened:
            cause, kind = _cause(facts), str(facts.get("leak.joint") or "")
            opened = facts.get("leak.really") is not None and bool(cause)
            if cause:
                held = Return(kind, cause, opened, held.heat_f, held.made_by, held.made, True)
            elif facts.get("leak.cause") == SOUND or facts.get("test.verdict") is None:
                # The joint was not to blame, or what was said of it was struck out.
                held = Return("", "", False, held.heat_f, held.made_by, held.made, False)
    return held


def cause_title(cause: str) -> str:
    """A cause in plain words; one that nobody lists, as it was written."""
    return causes()[cause].title if cause in causes() else cause
