"""How the cable moves: fit, tension, sidewall pressure, slack, and the rope ahead of it."""
