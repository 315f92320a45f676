"""The nearest change where the pressure is too high: a regulator as they are sold for drip."""

from __future__ import annotations

from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.hydraulics import figure

#: Settings, the highest first: from the highest usual one to the lowest, in steps of 5 (common
#: practice, no source). [psi]
SETTINGS = range(int(figure("regulator_high")), int(figure("regulator_low")) - 1, -5)


def named(setting: int) -> Text:
    """The change in words."""
    return say("With a {setting} regulator", setting=Figure(setting, "psi"))
