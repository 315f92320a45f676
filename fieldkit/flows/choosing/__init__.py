"""Choose the parts between pipe and tubing."""
