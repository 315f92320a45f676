"""Measure a pipe or a tube."""
