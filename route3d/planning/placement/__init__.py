"""Where the pulling machine can stand: site, ways to stand, and the search."""
