"""Flow, loss, surge, and what each joint holds."""
