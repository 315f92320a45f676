"""Find out how wide it really is, and how sure one may be."""
