"""Other ways to build or pull a run, all solved and ranked."""
