"""The engine: fault trees, verdicts and the walk. Knows nothing of any screen."""
