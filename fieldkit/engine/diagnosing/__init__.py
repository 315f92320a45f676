"""Why it leaks or let go, in as few questions as possible."""
