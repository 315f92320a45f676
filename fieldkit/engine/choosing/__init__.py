"""Find the assemblies whose every end fits, and compare them.

Transition searches over open ends: the state is what is still to be served, a move adds a part
whose end mates one of them. Partial assemblies that another beats on every count are dropped,
with lower bounds for what is still missing; a test proves that pruning loses nothing against a
search without it.
"""
