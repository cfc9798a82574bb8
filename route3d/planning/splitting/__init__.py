"""How a run is split: every pull between its points, the ways to install it, new pull points."""
