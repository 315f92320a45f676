"""Read and work out beforehand what the first person would otherwise wait for."""

from __future__ import annotations

from fieldkit.engine.diagnosing.belief import JOINT_TYPE, posterior
from fieldkit.engine.diagnosing.next_question import next_question
from fieldkit.flows.catalogue import flows
from fieldkit.tables.diagnosis import options
from fieldkit.typed.answers import read_quantity


def warm() -> int:
    """Import every flow, make the unit registry, and fill the diagnosis' first tables.

    Returns
    -------
    int
        How many flows there are. A flow that is broken is heard of here, and not by a person.
    """
    read_quantity("1 mm", "in", field="warm")
    for option in options()[JOINT_TYPE]:
        answer = {JOINT_TYPE: option.option_id}
        next_question(answer, posterior(answer), asked=(JOINT_TYPE,))
    return len(flows())
