"""One module a command of ``layby``."""
