"""Recorded signals of narrow-band oxygen sensors: read from a file, measured, judged, drawn as text."""
