"""Make the joint: cement, threads, tube ends."""
