"""The documentation, and the commands that make its generated parts: ``python -m route3d.docs``."""
