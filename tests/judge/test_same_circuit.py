"""Faults that are one circuit by several names are told apart by what is known beforehand, by no reading."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from incircuit.board import Board, parse_board, write_board
from incircuit.circuit.build import build
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.judge.causes import BRIDGE, Cause, causes_of, changes_on
from incircuit.judge.judge import Judgement, judge
from incircuit.judge.scenes import Scene
from incircuit.parts.defects import Magnitude, magnitude_of
from incircuit.story import parse_story
from tests.compare.circuits import SMALL, board
from tests.judge.bench import Hidden, bench
from tests.judge.stories import all_about, every_fault, sized, taken
from tests.judge.told import METER

pytestmark = pytest.mark.usefixtures("ngspice")

SHORT = magnitude_of("short")
BOTH = 0.1
"""[ohm] A short and a bridge may be so large."""


def twins_on(on: Board, size: float | None) -> list[list[Cause]]:
    """Causes that do the same to a board at a size, those alone left out."""
    scene = Scene(build(on), METER, METER, (), "", "", ())
    found: dict[object, list[Cause]] = {}
    for cause in causes_of(on, {}):
        law = cause.defect.magnitude
        if (size is None) == (law is None) and not (law and size and not _may_be(law, size)):
            what = changes_on(cause, scene, (size,))
            assert what is not None
            found.setdefault(effect(what[0]), []).append(cause)
    return [some for some in found.values() if len(some) > 1]


def judged(on: Board, fault: Hidden, ref: str, rng: random.Random) -> Judgement:
    """A board with a fault, some readings about a part."""
    plan = all_about(on, ref, 24)
    plan = rng.sample(plan, min(len(plan), rng.choice((3, 6, 12))))
    lines = taken(bench(on, METER, (fault,), rng), ["meter handheld"], plan, rng)
    return judge(on, parse_story("\n".join(["meter handheld", *lines]) + "\n", board=on))


def _may_be(law: Magnitude, ohms: float) -> bool:
    return law.unit == "Ω" and law.low <= ohms <= law.high


def name_of(cause: Cause) -> str:
    """Part and fault."""
    return f"{cause.who} {cause.fault}"


def likelihoods(found: Judgement) -> dict[str, float]:
    """Of each single fault by itself, by name."""
    return {name_of(e.faults[0].cause): e.fit.log_likelihood for e in found.explanations
            if len(e.faults) == 1 and not e.slips}


@pytest.mark.parametrize("seed", range(8))
def test_the_same_at_every_size_is_as_likely(seed: int) -> None:
    """With three more parts across one, so that opens, leaks and shorts have company."""
    rng = random.Random(f"same circuit {seed}")
    small = board(rng.choice(list(SMALL)))
    part = rng.choice([p for p in small.parts if len({net for _, net in p.pins}) > 1])
    a, b = rng.sample(sorted({net for _, net in part.pins}), 2)
    more = f"X1 capacitor {a} {b} 10n film\nX2 capacitor {a} {b} 10n film\nX3 resistor {a} {b} 3M3\n"
    on = parse_board(write_board(small) + more, "more.board")
    found = likelihoods(judged(on, sized(rng.choice(every_fault(on)), rng), part.ref, rng))
    groups = [some for size in (None, BOTH, 1e3) for some in twins_on(on, size)]
    compared = 0
    for some in groups:
        laws = {c.defect.magnitude for c in some}
        for law in laws:
            each = [found[name_of(c)] for c in some if c.defect.magnitude == law]
            compared += len(each) - 1
            assert each == pytest.approx([each[0]] * len(each), abs=1e-9)
    assert compared >= 3


def density(law: Magnitude, ohms: Floats) -> Floats:
    """Of the logarithm of a size."""
    nodes = law.nodes(2000)
    step = math.log(law.high / law.low) / len(nodes)
    return np.asarray(np.interp(np.log(ohms), [math.log(m) for m, _ in nodes], [w / step for _, w in nodes]))


@pytest.mark.parametrize("seed", range(8))
def test_a_bridge_and_a_short_differ_by_what_is_known_of_their_sizes(seed: int) -> None:
    """By no more than the ratio of their densities, and 0.3 for the sizes at which each is looked at."""
    rng = random.Random(f"bridge and short {seed}")
    ratio = np.log(density(BRIDGE, both := np.geomspace(SHORT.low, BRIDGE.high, 50)) / density(SHORT, both))
    on, bridged = rng.choice([(on, some) for name in SMALL for on in (board(name),)
                              for some in twins_on(on, BOTH) if not some[-1].part])
    size = math.exp(rng.uniform(math.log(0.003), math.log(0.5)))
    found = likelihoods(judged(on, Hidden("", None, size, bridged[-1].between), bridged[0].part, rng))
    for short in bridged[:-1]:
        more = found[name_of(bridged[-1])] - found[name_of(short)]
        assert ratio.min() - 0.3 < more < ratio.max() + 0.3
