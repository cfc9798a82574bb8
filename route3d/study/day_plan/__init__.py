"""The pulls of a job in an order, over days."""
