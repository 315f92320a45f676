"""Why it leaks or let go, in as few questions as possible.

Diagnosis is plain naive Bayes over the causes; each answer is wrong now and then (`slip`), so one
odd answer lowers a cause and never buries it. Failures that were found out are added to the
weights of their causes (the mean of a Dirichlet distribution), which are worth about 110 of them.
A question is worth the information it gives and how much more often the repair is then right
(`repair` in `causes.csv`: causes mended by the same work count as one), over its effort. What can
be seen or remembered comes before what must be taken apart, and the case stays open while an
answer may change what is to be repaired; an answer that shows a fault outright (`shows` in
`question_options.csv`) is mended too. Play cases with `fieldkit diagnose score FILE`;
`fieldkit diagnose simulate` gives the honest expectation, and `--past N` that of a company with
a log of its own.
"""
