"""The commands of ``fieldkit``, a module for each or for a few that belong together."""
