"""route3d: tension along a routed conduit path, and which end to pull from."""
