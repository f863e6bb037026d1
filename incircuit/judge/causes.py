"""What could be wrong: every single fault of every part, and solder bridges between nets that meet at a part.

A cause names a defect without a circuit; on each scene it becomes a change of that scene's elements,
or nothing where the faulty specimen is not on the board.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from incircuit.board.model import Board, Part
from incircuit.board.state import State
from incircuit.circuit.build import Circuit, apply, build
from incircuit.judge.scenes import Scene, as_first, renewed
from incircuit.parts import Defect, Magnitude, change, defects_of, prior
from incircuit.parts.elements import Change, Element, Resistance
from incircuit.parts.priors import ASSEMBLY
from incircuit.parts.structure import nodes_by_pin
from incircuit.predict.question import pin_nodes

BRIDGE = Magnitude("Ω", 1e-3, 1.0, 0.02)
"""Resistance of a solder bridge [ohm]; from memory."""
BRIDGE_RATE = 5e-6
WORKED_ON = 20.0
"""Weight of a bridge beside the parts' failures, and how much more on a board worked on; from memory."""

NEW = 0.1
"""How often a new part fails by itself beside one that has served; hands err as ever. From memory."""

TEMPER = 1.0 / 3.0
"""Rates count by this power: they hold for parts run within their limits, by kind and not by board, and
are known to an order of magnitude (assumption). A verdict must not hang on them."""


@dataclass(frozen=True, slots=True, eq=False)
class Cause:
    """A defect of a part, or with `part` empty a bridge between the nets `between`.

    `rate` is how often it happens beside the others, by the handbook `source` names; `weight` the same
    tempered, its prior. `specimen` counts from 0 for the part that was on the board, 1 for the first new one.
    A cause is equal to itself only.
    """

    part: str
    defect: Defect
    rate: float
    source: str
    between: tuple[str, str] = ("", "")
    specimen: int = 0

    @property
    def who(self) -> str:
        """The part, a new one told from the old one; empty for a bridge."""
        return f"{self.part} (new)" if self.specimen else self.part

    @property
    def weight(self) -> float:
        """Prior weight: what one mode is to another of the same part, times the part's rate tempered."""
        return float(max(self.rate, 1e-12)**TEMPER)

    @property
    def fault(self) -> str:
        """The fault in words, with pins where a part has more than two."""
        return self.defect.name if self.part else f"bridge {self.between[0]} {self.between[1]}"

    @property
    def sized(self) -> bool:
        """Whether its magnitude is unknown and continuous."""
        return self.defect.magnitude is not None and not self.defect.magnitude.choices


def causes_of(board: Board, replaced: Mapping[str, int]) -> tuple[Cause, ...]:
    """Every single cause, in the order of the board; bridges last. `replaced`: how often each part was."""
    circuit = build(board)
    worked_on = "worked-on" in board.flags
    found = []
    for part in board.parts:
        for defect in defects_of(part, circuit.of_part(part.ref)):
            rate = prior(part, defect, worked_on)
            found.append(Cause(part.ref, defect, rate, defect.source))
            fresh = rate * (1.0 if defect.word in ASSEMBLY else NEW)
            found += [Cause(part.ref, defect, fresh, f"a new part; {defect.source}", specimen=k)
                      for k in range(1, replaced.get(part.ref, 0) + 1)]
    weight = BRIDGE_RATE * (WORKED_ON if worked_on else 1.0)
    for pair in _neighbours(board):
        defect = Defect("", "bridge", pair, BRIDGE, 1.0, "from memory")
        found.append(Cause("", defect, weight, "from memory", pair))
    return tuple(found)


def _neighbours(board: Board) -> tuple[tuple[str, str], ...]:
    """Pairs of nets that a part joins, each once, in the order of the board."""
    pairs: dict[tuple[str, str], None] = {}
    for part in board.parts:
        if part.kind in ("connector",):
            continue
        for a, b in combinations(dict.fromkeys(net for _, net in part.pins), 2):
            pairs[(a, b) if a <= b else (b, a)] = None
    return tuple(pairs)


def magnitudes(cause: Cause, count: int) -> tuple[float | None, ...]:
    """Magnitudes to look at: `count` over the whole range, the few choices, or None where it has none."""
    size = cause.defect.magnitude
    if size is None:
        return (None,)
    if size.choices:
        return size.choices
    return tuple(float(m) for m in np.geomspace(size.low, size.high, count))


def severe(cause: Cause) -> tuple[float | None, ...]:
    """The magnitudes farthest from healthy: the least ohms of a leak, both ends of a drift."""
    size = cause.defect.magnitude
    if size is None:
        return (None,)
    if size.choices:
        return size.choices
    return (size.low,) if size.unit == "Ω" else (size.low, size.high)


def span_weights(cause: Cause, sizes: Sequence[float | None]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Prior probability of each span between neighbouring magnitudes, or of each single one."""
    size = cause.defect.magnitude
    if size is None or size.choices:
        return np.full(len(sizes), 1.0 / max(1, len(size.choices) if size else 1))
    known = [math.log(float(m)) for m in sizes if m is not None]
    edges, density = _density(size)
    total = np.concatenate([[0.0], np.cumsum(density)])
    share = np.interp(known, edges, total)
    return np.diff(share)


@lru_cache(maxsize=256)
def _density(size: Magnitude, steps: int = 200) -> tuple[list[float], list[float]]:
    """Edges in ln magnitude and the probability between them."""
    span = math.log(size.high / size.low)
    edges = [math.log(size.low) + span * k / steps for k in range(steps + 1)]
    return edges, [weight for _, weight in size.nodes(steps)]


def changes_on(cause: Cause, scene: Scene, sizes: Sequence[float | None],
               circuit: Circuit | None = None) -> tuple[Change, ...] | None:
    """What the cause does on a scene at each magnitude; None where it does nothing there.

    `circuit` stands for the scene's own where an earlier fault has already changed it.
    """
    stage = circuit or scene.circuit
    if not cause.part:
        a, b = cause.between
        name = f"bridge {a} {b}"
        return tuple(Change(add=(Resistance(name, "", a, b, float(m or 0.0)),)) for m in sizes)
    part, state = stage.board.part(cause.part), stage.state
    if scene.replaced(cause.part) != cause.specimen or cause.part in state.removed:
        return None
    count = cause.specimen
    own = tuple(as_first(e, count) for e in stage.of_part(cause.part))
    nodes = _nodes(part, own, stage.state)
    return tuple(_of_specimen(change(part, own, cause.defect, m, nodes), count) for m in sizes)


def _of_specimen(what: Change, count: int) -> Change:
    """A change of the first specimen as one of another."""
    if not count:
        return what
    return Change(frozenset(f"{name} #{count}" for name in what.remove),
                  tuple(renewed(e, count) for e in what.add))


def _nodes(part: Part, own: Sequence[Element], state: State) -> dict[str, str]:
    nodes = nodes_by_pin(part, own)
    lifted = {pin: node for pin, node in pin_nodes(part, state).items()
              if nodes.get(pin, part.net(pin)) == part.net(pin)}
    return {**nodes, **lifted}


def with_fault(scene: Scene, cause: Cause, size: float | None, circuit: Circuit | None = None) -> Circuit:
    """The scene's circuit, or another that stands for it, with a cause at one magnitude."""
    stage = circuit or scene.circuit
    changes = changes_on(cause, scene, (size,), stage)
    return Circuit(stage.board, stage.state, apply(stage.elements, changes[0])) if changes else stage


def total_weight(causes: Iterable[Cause]) -> float:
    """Sum of the weights, for turning them into probabilities."""
    return sum(c.weight for c in causes) or 1.0
