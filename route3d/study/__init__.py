"""How sure, how far, which way is best: uncertainty, limits, options, many jobs and days."""
