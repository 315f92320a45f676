"""Name the pipe or the tube."""
