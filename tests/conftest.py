"""Property tests draw the same examples on every run, so that a red CI means a change.

None has a deadline: how fast the machine is now is the business of the benchmarks.
"""

from hypothesis import settings

settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.load_profile("same")
