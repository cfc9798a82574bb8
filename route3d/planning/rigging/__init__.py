"""How machine, reel, rope and people stand at both ends of a pull, to be drawn to scale."""
