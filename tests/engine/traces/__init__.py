"""Tests of recorded signals."""
