"""Small files written by other libraries, and what a reading of each must say."""
