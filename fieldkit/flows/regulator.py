"""The nearest change where the pressure is too high: a regulator as they are sold for drip."""

from __future__ import annotations

from collections.abc import Callable

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.hydraulics import figure

#: Settings, the highest first: from the highest usual one to the lowest, in steps of 5 (common
#: practice, no source). [psi]
SETTINGS = range(int(figure("regulator_high")), int(figure("regulator_low")) - 1, -5)


def behind_a_regulator(asked_psi: float, works: Callable[[float], bool]) -> int | None:
    """The highest setting below ``asked_psi`` at which it works, None where none does. [psi]

    Examples
    --------
    >>> behind_a_regulator(40.0, lambda psi: psi <= 26), behind_a_regulator(8.0, lambda psi: True)
    (25, None)
    """

    def tried(setting: int) -> bool:
        try:
            return works(float(setting))
        except Problem:
            return False

    return next((one for one in SETTINGS if one < asked_psi and tried(one)), None)


def named(setting: int) -> Text:
    """The change in words."""
    return say("With a {setting} regulator", setting=Figure(setting, "psi"))
