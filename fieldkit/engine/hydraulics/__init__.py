"""Flow, loss, surge, heat: whether it will go on holding."""
