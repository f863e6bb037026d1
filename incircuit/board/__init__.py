"""Board files and what they say: text ⇄ parts, nets, pads, and the state of the board on the bench.

`kinds` holds the vocabulary, `model` the data, `reader` and `writer` the text, `lint` the warnings,
`pads` what a probe touches, `state` what has been done to the board.
"""

from incircuit.board.kinds import KINDS, KindSpec, OptionSpec, kind_named
from incircuit.board.lint import lint
from incircuit.board.model import Board, Net, Part, Place, Statement
from incircuit.board.pads import resolve_pad
from incircuit.board.reader import parse_board, read_board
from incircuit.board.state import HEALTHY, State, make_state, pad_node
from incircuit.board.writer import write_board

__all__ = [
    "HEALTHY",
    "KINDS",
    "Board",
    "KindSpec",
    "Net",
    "OptionSpec",
    "Part",
    "Place",
    "State",
    "Statement",
    "kind_named",
    "lint",
    "make_state",
    "pad_node",
    "parse_board",
    "read_board",
    "resolve_pad",
    "write_board",
]
