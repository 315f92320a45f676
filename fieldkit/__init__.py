"""fieldkit: measure, choose, join, prove and diagnose where poly tubing meets PVC pipe."""

__version__ = "0.1.0"
