"""Sourced data: one CSV a table, one source and status a row."""
