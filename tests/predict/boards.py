"""Boards of every kind put together at random, for tests that must not forget a kind."""

from __future__ import annotations

import random

from incircuit.board import Board, Net, Part
from tests.parts.samples import every_sample

SAMPLES = list(every_sample())
NETS = tuple("abcdefg")
TWO_STATES = ("npn", "pnp", "nmos", "pmos", "darlington", "bias-transistor", "igbt", "optocoupler",
              "half-bridge", "three-phase-inverter")
"""Kinds with a transistor: two of them can hold each other in either of two states."""


def random_board(seed: int, nets: tuple[str, ...] = NETS) -> Board:
    """Some parts of any kind, pins put on nets at random; gates tied down, one transistor at most."""
    r = random.Random(seed)
    parts: list[Part] = []
    active = False
    for k in range(r.randint(2, 7)):
        part = r.choice(SAMPLES)
        if part.kind in TWO_STATES:
            if active:
                continue
            active = True
        pins = tuple((pin, r.choice(nets)) for pin in part.pin_names)
        parts.append(Part(f"X{k}", part.kind, pins, part.value, words=part.words, options=part.options))
        at = dict(pins)
        for gate in (pin for pin in at if pin.startswith("G") and pin != "GND"):
            parts.append(Part(f"X{k}{gate}", "resistor", (("1", at[gate]), ("2", r.choice(nets))), 1e4))
    for k in range(r.randint(0, 4)):
        a, b = r.sample(nets, 2)
        parts.append(Part(f"R{k}", "resistor", (("1", a), ("2", b)), r.choice([0.1, 10.0, 1e3, 47e3, 1e6])))
    return Board("random", tuple(Net(net) for net in nets), tuple(parts))
