"""The Flask side: pages, forms, JSON.

On one's own machine nobody logs in, and only loopback names are answered. With `serve --host` all
log in, and `web/access.py` says in one table who may use which endpoint; one that is not listed
is refused to everyone, and a test fails until it is. Who may enter is kept in `fieldkit.people`
beside the log, never exported. Behind a server with
HTTPS give `--public-url`: it says where invitations and codes lead, and any other Host is refused;
`--proxy` names who alone may say who asks.

Names are compared by what they look like (`joblog/names.py`, Unicode's table of confusables),
where people are invited, join, log in, are counted for wrong tries, and where entries come in. A
device that has held somebody's session counts wrong tries for itself, so strangers lock nobody
out of it. A link for a new password (by a lead, or `fieldkit people reset`) keeps the person, so
what a phone has not sent yet is still theirs. What happened at the door is kept in
`fieldkit.people` and printed by `fieldkit people log`; what strangers can cause there has a limit
of its own.

A log is 0600, in a folder of 0700 where we make it. A newer version's file is refused before
anything is written. `fieldkit repair` (`joblog/repair.py`) reads the pages of a torn file one by
one and its journal, and names the places in the order of arrival that are gone. The secret goes
aside with the torn file, so phones send everything again.

`web/listening.py` closes what is slow: the head of a request may take 15 s, its body 15 s and 1 s
for each 400 bytes that came, a kept connection 30 s; 500 are open at once, and then the one that
has been waited for longest goes. A server in front should hold the same itself, as all that it
passes on comes from one address: 15 s for a head, no more than 50 connections an address, the
body taken in whole before it is passed on, `Host` and `X-Forwarded-For`, `-Proto`, `-Host`
written by itself, never copied.

A signature's own fields are under its seal too: who, when, what was waived and why. `fieldkit
verify` (`joblog/integrity.py`) works out every seal; holds what arrived against what is there, so
an entry under no seal that was changed, and a whole job that is gone, are found; reads every
photo; compares tables, constraints, indexes and triggers with those of a new log both ways; and
works out the jobs anew from their entries, as the pages read that.

What none of this can do alone: a hand that makes up entries, every later seal *and* the tree of
arrivals anew leaves a log that is in itself whole. The next phone that asks says so, the head and
the digest on a paper record tell it, and so does any other copy. After a restore, which leaves
such a log too, phones say that it was put back from a copy. The order in which entries arrived is
no part of a seal: another phone has them in another order, and the seal must hold there too.

Every log has a company (`JobLog.company`), by chance, carried along by every copy of it. A phone
names it when it sends, a file when it is brought in. What belongs to another company is refused
by name; a lead can bring in such a file, or a homeowner's, which names none, on purpose. An older
phone that names none is taken at its word: what keeps strangers out is the login, not this name.
Whoever is no lead sends only what they wrote themselves. What was refused is kept at `/refused`
for a lead.

What takes long (the record, labels and files of a job of more than 3,000 entries, a file brought
in of as many) is done by `web/beside.py` in one thread beside the one that answers: the asker
gets a page that looks again every two seconds, others go on, saves go in between lots of 500.
Lists show 50 at a time; a finished job stands on a list of its own.

A backup (`joblog/backup.py`) is a zip: the log, the people without their sessions and
invitations, the photos, and a list of digests. The server's secret is left out: whoever finds a
copy must not be able to sign a cookie or to enter. The price: after a restore everyone logs in
again, and joints that belong to no job begin a new such list. The gain: phones know a log by the
secret's digest, see that this is another copy, and send all that they have once more. A restore
unpacks beside its place, checks, works the jobs out anew, and moves what stood there aside.

Long work gives way while a request is answered (0.1 s at a time at most), each time it tells how
far it is. Nobody may have more than three pieces of it waiting. Pages and files that it makes lie
on the disk.
"""
