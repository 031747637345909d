"""The five gases of an exhaust: what they say together, and what they cannot say."""

from engine.gases.analysis import Analysis, Sample, analyse
from engine.gases.from_job import samples_of

__all__ = ["Analysis", "Sample", "analyse", "samples_of"]
