"""Files in and out: the model file, its schema, and writing without half-written files."""
