"""Plan a pressure test and judge what the gauge said.

Test verdict is a statement about the leak. `leak_bound.py` balances the water of a shut-in line
(thick wall, air, heat, slow stretch) and propagates each reading's and each table's tolerance to
a one-sided 95 % bound; what nobody measured is taken at its worst on either side. The bound is
held against the leak that matters; rules of a standard stand beside it, and the stricter is the
answer. The plan runs the same sum forwards. `python tests/support/shut_in.py 500` plays lines by
a model of its own and prints how often a verdict is wrong; a test holds those rates.
"""
