"""The model file: TOML text to a Job and back, its schema, starter and problems by line."""
