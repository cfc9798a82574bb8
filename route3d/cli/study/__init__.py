"""How sure, how far, which way is best: spread, limits, options, days."""
