"""Property tests draw the same examples on every run, so that a red CI means a change."""

from hypothesis import settings

settings.register_profile("same", derandomize=True, database=None)
settings.load_profile("same")
