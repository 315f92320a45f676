"""The Flask side: pages, forms, JSON and the command line."""
