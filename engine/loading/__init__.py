"""Tree files -> `engine.tree.Tree`, written out for every side, every reference checked.

Nothing raises for what is in a file: what is wrong comes back as problems with line and column. Whether a
file has the shape its schema asks for is checked elsewhere; here a wrong shape only gets in the way.
"""

from engine.loading.signatures import Signature, signature_of
from engine.loading.sources import TreeSource
from engine.loading.trees import load_tree, load_trees

__all__ = ["Signature", "TreeSource", "load_tree", "load_trees", "signature_of"]
