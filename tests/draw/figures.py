"""How the drawings come out: `python -m tests.draw.figures [random boards] [seed]` prints a table.

For every shipped board of up to 60 parts, for the stages of the larger ones, and for random boards: parts,
processor seconds, crossings of wires of different nets, transistors on their heads, size, and whether the
picture reads back to the netlist with nothing on top of anything else.
"""

from __future__ import annotations

import random
import sys
import time
from pathlib import Path

from incircuit.board import KINDS, Board, Part, read_board
from incircuit.draw.arrangement import planned
from incircuit.draw.blocks import stages_of
from incircuit.draw.bodies import UPSIDE_DOWN, body_of
from incircuit.draw.drawing import draw_board
from incircuit.draw.plan import look_at
from incircuit.draw.scene import scene_of
from tests.draw.readback import Picture, netlist, read, stumbles
from tests.draw.test_drawing import netlist_of, stage

ROOT = Path(__file__).resolve().parents[2]
COMMON = (
    "resistor",
    "resistor",
    "resistor",
    "capacitor",
    "capacitor",
    "diode",
    "zener",
    "npn",
    "pnp",
    "nmos",
    "igbt",
    "optocoupler",
    "inductor",
    "fuse",
    "chip",
)


def crossings(picture: Picture) -> int:
    """Places where an upright and a level wire of two nets cross."""
    upright = [(n, a[0], *sorted((a[1], b[1]))) for n, a, b in picture.wires if a[0] == b[0] and a[1] != b[1]]
    level = [(n, a[1], *sorted((a[0], b[0]))) for n, a, b in picture.wires if a[1] == b[1] and a[0] != b[0]]
    return sum(1 for n, x, top, bottom in upright for m, y, left, right in level
               if n != m and left < x < right and top < y < bottom)


def on_their_heads(board: Board) -> int:
    """Transistors and the like drawn upside down."""
    scene = scene_of(board)
    levels, columns, glyphs = planned(scene)
    bodies = [body_of(item, "", glyph) for item, glyph in zip(scene.items, glyphs, strict=True)]
    stands = look_at(bodies, levels, columns).stands
    return sum(
        s.over for s, b in zip(stands, bodies, strict=True) if b.over_weight == UPSIDE_DOWN and not b.turns
    )


def random_board(dice: random.Random) -> Board:
    """A board such as might lie on a bench: common parts, most nets on two to four pins, a return rail."""
    count = dice.randint(3, 20)
    nets = ["RTN", *(f"N{k}" for k in range(max(2, round(0.75 * count))))]
    parts = []
    for k in range(count):
        kind = dice.choice(COMMON)
        pins = ("VCC", "GND", "A", "B", "C") if kind == "chip" else KINDS[kind].pins
        near = [dice.choice(nets[max(0, (k * len(nets)) // count - 3):][:6] or nets) for _ in pins]
        if len(set(near)) == 1:
            near[-1] = "RTN" if near[0] != "RTN" else nets[1]
        options = (("supply", "VCC"), ("ground", "GND")) if kind == "chip" else ()
        value = 1e4 if KINDS[kind].unit else None
        parts.append(Part(f"X{k + 1}", kind, tuple(zip(pins, near, strict=True)), value, options=options))
    return Board("random", (), tuple(parts))


def row(name: str, board: Board) -> tuple[int, float, int, int]:
    """Draw, print a line, return parts, seconds, crossings and heads."""
    begun = time.process_time()
    svg = draw_board(board)
    seconds = time.process_time() - begun
    picture = read(svg)
    good = netlist(picture) == netlist_of(board) and not stumbles(picture)
    found = len(board.parts), seconds, crossings(picture), on_their_heads(board)
    print(f"{name:28} {found[0]:3} parts {found[1]:5.2f} s {found[2]:3} crossings {found[3]} on their heads "
          f"{picture.width:5.0f} x {picture.height:4.0f} {'reads back' if good else 'FAILS'}")
    return found


def main() -> None:
    """The table."""
    for file in sorted((ROOT / "boards").glob("*/*.board")):
        board = read_board(str(file))
        if len(board.parts) <= 60:
            row(file.stem, board)
        else:
            for s in stages_of(board):
                row(f"{file.stem}: {s.name}", stage(board, s.refs))
    dice = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    rows = [
        row(f"random {k}", random_board(dice)) for k in range(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    ]
    if rows:
        parts, seconds, crossed, heads = (sum(r[k] for r in rows) for k in range(4))
        print(f"{len(rows)} random boards: {parts / len(rows):.1f} parts, {seconds / len(rows):.2f} s, "
              f"{crossed / len(rows):.1f} crossings, {heads} transistors on their heads")


if __name__ == "__main__":
    main()
