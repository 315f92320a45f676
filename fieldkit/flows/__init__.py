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

More of a page: `Step.folded` is asked only beside others and folded away; the safe side is taken
without it. `Flow.at_once` puts all steps on one page, for a joint made like the last.
`Flow.choose_together` names the steps that share a page where the next question depends on the
answers (five signs at most). On a page of acts `Flow.closing` is answered by its buttons at the
bottom edge; `Series.closed_by` is sent with the last reading. `Onward("another", …)` makes a
joint like this one with one tap. A page of several sends the names of its steps as `asked`, since
what shares a page may be another choice by then.

An answer's page reads its entry and works nothing out, unless the log learned a fact later
(`Passage.since`): then what it would be now stands beside it as an offer. A stop comes before all
of it. A step whose way out alone stops the work (`out_stops`) lifts no stop; only a step that
asks about all dangers does (`halt.may_lift`).
"""
