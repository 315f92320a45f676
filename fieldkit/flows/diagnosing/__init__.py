"""Why a joint leaks or let go, and how to mend it."""
