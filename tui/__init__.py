"""The terminal interface and the command line of layby."""
