"""Data: fault trees, catalogues and their schemas. No code."""
