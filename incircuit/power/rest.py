"""Where a board at rest says little about a powered one: what chips draw, and mains between its peaks."""

from __future__ import annotations

import math
from collections.abc import Sequence

from incircuit.board.kinds import kind_named
from incircuit.board.model import Board, Part
from incircuit.circuit.build import Circuit
from incircuit.parts.elements import Capacitance, Change, Resistance
from incircuit.predict.volts import Supply, voltages

DRAWN = 1e3
"""What a chip may be to its supply [ohm]: some milliamperes at some volts (common practice)."""
HOLDS = 1e-6
"""From this capacitance [F] on a rail is taken to hold over half a period of mains (common practice)."""


def draws(circuit: Circuit) -> Change | None:
    """Every chip drawing its supply current, regulators and light-driven transistors conducting.

    None where no part can. A chip with ``load=`` has its say already.
    """
    found = []
    for part in circuit.board.parts:
        if part.ref in circuit.state.removed:
            continue
        lifted = {pin for ref, pin in circuit.state.lifted if ref == part.ref}
        found += [Resistance(f"{part.ref} at work {a}-{b}", part.ref, part.net(a), part.net(b), DRAWN)
                  for a, b in _ways_through(part) if not {a, b} & lifted]
    return Change(frozenset(), tuple(found)) if found else None


def _ways_through(part: Part) -> Sequence[tuple[str, str]]:
    spec = kind_named(part.kind)
    match spec.name if spec else "":
        case "chip":
            supply, ground = ((part.option(name) or "").split(",")[0] for name in ("supply", "ground"))
            return [(supply, ground)] if supply and ground and part.option("load") is None else []
        case "linear-regulator":
            return [("IN", "GND"), ("IN", "OUT")]
        case "shunt-regulator":
            return [("K", "A")]
        case "optocoupler":
            return [("C", "E")]
        case _:
            return []


def between_peaks(circuit: Circuit, feed: tuple[Supply, ...]) -> tuple[Supply, ...]:
    """`feed` while mains crosses zero: rails of some microfarads keep what they had at the peak."""
    bulk = [e for e in circuit.elements if isinstance(e, Capacitance) and e.farads >= HOLDS]
    pairs = list(dict.fromkeys((e.a, e.b) for e in bulk))
    if not pairs:
        return (Supply(feed[0].plus, feed[0].minus, 0.0), *feed[1:])
    held = voltages(circuit, (), feed, pairs, math.inf, 0)[:, 0, 0]
    given = {frozenset((s.plus, s.minus)) for s in feed}
    rails = [Supply(a, b, float(volts)) for (a, b), volts in zip(pairs, held, strict=True)
             if frozenset((a, b)) not in given]
    return (Supply(feed[0].plus, feed[0].minus, 0.0), *feed[1:], *rails)


def lowest_rating(board: Board, net: str, minus: str) -> tuple[str, float] | None:
    """The capacitor from a net to `minus` that stands least, and its volts; None without a rating."""
    rated = [(part.rating, part.ref) for part in board.parts if part.kind == "capacitor"
             and part.rating and {net, minus} == {name for _, name in part.pins}]
    return (min(rated)[1], min(rated)[0]) if rated else None
