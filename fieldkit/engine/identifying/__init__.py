"""Say which pipe or tube it is, as chances.

Identify is Bayes over every row of `pipes.csv`: how common a row is at such a joint, times how
likely its sizes make the readings. Wall, bore and outside of one piece hang together, so each
reading updates a small normal model of that product and nothing is counted twice. A flat
background leaves room for "none of these". The next look is the one with the most expected
information. A word of the print that forbids (`other_kinds.csv`: gas, conduit, drain, steel, …)
is no evidence to be weighed but a veto: only rows of its kind stay. Whatever else has the same
sizes is a look-alike, however rare, and nothing with a look-alike of another kind is decided
without its print.
"""
