"""How the loads spread where the inputs are not known exactly."""
