"""The log of a job: it only grows, and what a job is now is a fold over its entries.

``Entry`` is one thing that happened; ``JobLog`` is the one door to the file. Time and ids are
handed in, so the same code runs on a server and on a phone.

An entry has an id made where it was made (UUIDv7), its time, job, joint, kind, flow, run, step,
what was typed, what was understood, what was worked out, and the facts it teaches the joint.
Triggers refuse UPDATE and DELETE. A correction is a new entry. `jobs`, `joints` and the search
index are read models, kept in the same transaction and rebuilt by `JobLog.rebuild()`; the later
writer wins by (time, id), so any order of arrival ends the same, and merging two phones is a
union.

Numbers. An entry is kept, and travels, as the text that Python wrote: `phone/since` sends it as a
string, so that no browser reads it and writes it anew. Its digest is over canonical JSON (RFC
8785, `joblog/canonical.py`), which does not depend on a language's way with numbers: 68 and 68.0
are one. Two entries with one id are the same if their digests are. What RFC 8785 cannot carry
(half a letter, a whole number that a double rounds) is refused. Seals from before say no `form`:
their digests are over JSON as Python writes it, of the entry as it is or as a browser had read
it. A phone that an older program filled reads everything anew, once, and puts a text in place
only of one that says the same.

Times. `JobLog.in_turn` puts an entry that is made here after all that is here of its job, a
hybrid logical clock within the time itself: a correction counts over what it corrects, whosever
clock is wrong. A phone learns at each exchange how far its clock is off and takes that off
(`web/clock.py`). What comes more than five minutes ahead is refused, stays on its phone, and is
sent again when its time has come. Pages and records say when an entry arrived where that is five
minutes or more from when it was made.

Arrival. `joblog/arrival.py` is a Merkle tree over what arrived (RFC 9162): a leaf covers an
entry's digest and when it arrived here. A save writes one leaf; branches over 256 leaves and more
are kept. A record prints the head, size and digest; each phone keeps the one it saw last, asks
for a proof that the log only grew since, checks it itself (`static/phone/witness.js`), and says
on every page if it did not, until somebody has seen it. A record made on a phone prints the head
of the server's log. `fieldkit verify --head SIZE:DIGEST` holds a paper against the log.

A form carries the id of the entry it will make. Sent twice it is saved once; sent again with
another answer it makes the entry that always follows from that pair (`web/ids.following_id`).

What an entry may hold stands in `joblog/door.py`, by its kind, and each fact's shape beside the
fact. What arrives and does not fit is refused; what is in a log already is set aside where it
does not fit, by name at `/refused`, and the rest counts. A joint belongs to the job it was made
in, a run to its joint. What this copy says of an entry stands beside it (`joblog/marks.py`), as
it is never changed: set aside, brought in from a file, not reproduced. A result that arrives is
worked out again from the answers and facts that the log knew at its moment (`joblog/rework.py`).

A seal says on which earlier seals it builds (`on`): those that hold and that no file brought in.
So a signature from a file, or a broken one, spoils no later seal, and "sign again" looks at the
last signature that was made in this log. After a log was rewritten a phone sends all it has; a
signature that is another's is refused and lies at `/refused`, where a lead may take it in on
purpose: whoever holds the phone could have made it up.

A file is read piece by piece (`piecewise.py`), looked through once, then taken in by lots of 500
(`bringing.py`). A phone's page is taken in by lots of 50 for 0.4 s; the phone sends the rest
again. A result is worked out again from at most 5,000 entries of its joint.

For those who lead a crew there is a small row a joint (`crew.py`); `fold.READ_MODELS` names every
read model once. A joint that moves to another job is said again there, entry by entry under new
ids, and closed where it stood (`move.py`), so what is sealed in the old job stays as it is.
"""

from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import Entry, is_id, new_id, utc_text
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.read import Hit, JobNow, JointNow, Prices, RunNow, State, Stored

__all__ = [
    "Appended",
    "Entry",
    "Hit",
    "JobLog",
    "JobNow",
    "JointNow",
    "Prices",
    "RunNow",
    "State",
    "Stored",
    "is_id",
    "new_id",
    "utc_text",
]
