"""The plan of one pull: gears, stops, gauge, load path, reel end, holding, supplies."""
