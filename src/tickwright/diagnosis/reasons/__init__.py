"""Why an output holds as long as it does, read off one traced press and the circuit. Imports up to `measurement`.

`tracing` writes down what brought each change about, `folding` finds rings in chains of causes, `telling` makes
sentences, `deriving` gets every figure again from another run, `contrasting` tells two designs apart.
"""

from tickwright.diagnosis.reasons.contrasting import LONGEST_CONTRASTED_STEPS, contrast
from tickwright.diagnosis.reasons.deriving import Derivation, cells_of
from tickwright.diagnosis.reasons.explanation import Explained, why
from tickwright.diagnosis.reasons.sentences import Figure, Named, Sentence, Text

__all__ = [
    "LONGEST_CONTRASTED_STEPS",
    "Derivation",
    "Explained",
    "Figure",
    "Named",
    "Sentence",
    "Text",
    "cells_of",
    "contrast",
    "why",
]
