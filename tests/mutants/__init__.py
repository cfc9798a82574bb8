"""Wrong changes that the tests must notice, applied one at a time to a copy of the product."""
