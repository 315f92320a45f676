"""The pages, one module a place in the program."""
