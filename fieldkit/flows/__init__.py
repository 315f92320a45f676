"""Guided steps and calculations declared as data; typed text becomes facts here.

The drawing leads. `flows/drawings/joint_strip.py` draws the joint as known so far, from its facts
alone; each zone is a link to what comes next there. A choice that stands alone is a page of tiles
(`drawings/tiles.py`), each a button that answers, so it works without scripts; the next page
offers to undo it. Steps of one place and one tool share a page: name them in `Flow.together`, its
title in `Flow.pages`, and give each step a `short` label. Each is still an answer of its own in
the log; a box left empty is left open. `Flow.straight_on` goes past an answer that the strip
tells whole, `Flow.onward` says what leads on, and a `Lead` block puts the figure that decides and
what to do now on the first screen; figures and drawings are folded. `web/cautions.py` keeps at
most two cautions open, and none twice in a job for one person; a caution whose figures changed is
a new one. What stops the work (`flows/stops.py` by what a pipe is, `flows/halt.py` by an answer)
ends every flow of the joint.

A flow may offer the nearest changes that work (`Flow.changes`, saved as if typed), lay blocks
beside its questions (`aside`), and lead on to another flow or to the joint's card for the store
(`onward`). A repair is two stages that stand first in the checklist while they are needed: why,
and mend. A joint like another takes over the facts that `facts.shared` names, in the entry that
opens it.

Facts (`flows/facts.py`) are what one flow learns and the next does not ask again.
`flows/checklist.py` says, from the facts alone, which stages of a joint are done and what is
next.
"""
