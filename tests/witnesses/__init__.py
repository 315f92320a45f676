"""Programs and printed tables that we did not write, ready to compare with."""
