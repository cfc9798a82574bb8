"""The command line: a skin over the library, one module for each command."""
