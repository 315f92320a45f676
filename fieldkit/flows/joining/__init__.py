"""Make the joint: cement, threads, tubing."""
