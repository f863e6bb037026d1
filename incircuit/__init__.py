"""In-place meter readings on dead power-electronics boards: predicted, explained, judged.

The package is one line, each arrow one way:
text -> board -> parts -> circuit -> reading (meter, predict) -> verdict (compare) -> shown (cli).
"""

__version__ = "0.1.0"
