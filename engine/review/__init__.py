"""What can be wrong in trees that are valid, and ``layby check`` over files and folders."""

from engine.review.checking import check
from engine.review.reviewing import review

__all__ = ["check", "review"]
