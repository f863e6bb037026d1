"""Slips of the hand: no contact, leads the wrong way round, a probe on the next pad, a charge left, haste."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.judge.joint import joint_fit
from incircuit.judge.memory import Notes, key_of
from incircuit.judge.observed import stray
from incircuit.judge.scenes import Scene, Taken
from incircuit.judge.stage import healthy_on, stage_of
from incircuit.predict.course_charge import Residue, residue
from incircuit.predict.question import Question
from incircuit.predict.reach import moving_block
from incircuit.units import format_value

PRIORS = {"no contact": 0.0005, "leads swapped": 0.0005, "wrong pad": 0.0005, "charge left": 0.003,
          "still moving": 0.003}
"""How often a reading is written down so, by people who look twice at a strange one; assumptions, from memory
of the bench. The last two only where a capacitor is in reach."""
FALSE_OVER = 0.03
"""Overload is put down to a charge so much less often: most look again when they see it."""
A_MOMENT = 0.05
"""Share of what a charged capacitor may make a moving display show that is like the one seen."""
LEAST_CHARGE = 5e-3
"""[V] With less than this on it a capacitor was charged by the meter alone."""
ONE_CHARGE, ONE_CHARGE_VOLTS = 0.2, 0.05
"""Charges so far apart, as a part of them and in volts, are one: a meter adds some, and takes some away."""
BOARDS = 32
MOST_PADS = 6
"""Next pads a probe may have been on; where more parts meet, it is a rail, and hard to miss."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One reading that is not what it seems: `kind` of `PRIORS`, and on which pad or part."""

    number: int
    kind: str
    detail: str = ""


def at_most(scenes: Sequence[Scene], numbers: Sequence[int]) -> float:
    """Log of prior times density that slips at these readings can have at most."""
    total = 0.0
    for seen in (t.observed for s in scenes for t in s.readings if t.number in numbers):
        sharp = 0.0 if seen.value is None else -math.log(
            math.sqrt(2.0 * math.pi / 3.0) * math.hypot(seen.error, seen.rounding) + 1e-12)
        total += math.log(max(PRIORS.values())) + max(sharp, 0.0)
    return total


def slips_for(scenes: Sequence[Scene], circuits: Sequence[Circuit],
              numbers: Sequence[int], notes: Notes) -> tuple[tuple[Slip, ...], float] | None:
    """The likeliest slip for each of some readings, on the circuits as they are, and the log of prior
    times density; None where one of them has no explanation."""
    found: list[Slip] = []
    gained = 0.0
    for number in numbers:
        best = max((way for k, scene in enumerate(scenes) for taken in scene.readings
                    if taken.number == number for way in _ways(scene, circuits[k], taken, notes)),
                   key=lambda way: way[0], default=None)
        if best is None:
            return None
        gained += best[0]
        found.append(best[1])
    return tuple(found), gained


def one_charge(scenes: Sequence[Scene], circuits: Sequence[Circuit], numbers: Sequence[int],
               notes: Notes) -> tuple[tuple[Slip, ...], float] | None:
    """One charge on one capacitor that falsified several readings, and the log of prior times density; None
    where no one charge gives them all. The prior counts once."""
    found: list[tuple[float, Slip]] = []
    left: list[Residue] = []
    for k, scene in enumerate(scenes):
        for taken in (t for t in scene.readings if t.number in numbers):
            one = _residue(scene, circuits[k], taken, notes)
            if one is None or abs(one.volts) < LEAST_CHARGE:
                return None
            left.append(one)
            found.append(_charged(one, taken))
    volts = [r.volts for r in left]
    if len(left) != len(numbers) or len({r.part for r in left}) > 1 or (
            max(volts) - min(volts) > ONE_CHARGE * max(map(abs, volts)) + ONE_CHARGE_VOLTS):
        return None
    gained = sum(d for d, _ in found) - (len(found) - 1) * math.log(PRIORS["charge left"])
    return tuple(slip for _, slip in sorted(found, key=lambda f: f[1].number)), gained


def _ways(scene: Scene, circuit: Circuit, taken: Taken, notes: Notes) -> list[tuple[float, Slip]]:
    """(log of prior times density, slip) for every slip that gives the reading."""
    seen, number = taken.observed, taken.number
    found: list[tuple[float, Slip]] = []
    if (seen.display or seen).value is None and not taken.ask.word:  # without contact it shows OL
        found.append((math.log(PRIORS["no contact"]), Slip(number, "no contact")))
    turned = replace(taken, number=0, ask=replace(taken.ask, swapped=not taken.ask.swapped))
    found += _if_it_gives(scene, circuit, turned, Slip(number, "leads swapped"), notes)
    for end in (scene.red, scene.black):
        for other in _next_to(circuit, end)[:MOST_PADS]:
            if other not in (scene.red, scene.black):
                moved = replace(scene, red=other if end == scene.red else scene.red,
                                black=other if end == scene.black else scene.black)
                found += _if_it_gives(moved, circuit, replace(taken, number=0),
                                      Slip(number, "wrong pad", f"{other} instead of {end}"), notes)
    left = _residue(scene, circuit, taken, notes)
    return [*found, _charged(left, taken)] if left is not None else found


def _charged(left: Residue, taken: Taken) -> tuple[float, Slip]:
    """A reading put down to a charge or to haste; a charge may give any number of the display's scale."""
    seen = taken.observed
    haste = abs(left.volts) < LEAST_CHARGE
    kind = "still moving" if haste else "charge left"
    density = math.log(PRIORS[kind])
    if seen.display is not None:
        density += math.log(A_MOMENT)
    else:
        density += math.log(FALSE_OVER) if seen.value is None else stray(seen)
    volts = format_value(abs(left.volts), "V", 2)
    said = f"{left.part} charging would do it" if haste else f"{volts} on {left.part} would do it"
    return density, Slip(taken.number, kind, said)


def _residue(scene: Scene, circuit: Circuit, taken: Taken, notes: Notes) -> Residue | None:
    """The charge that would give the reading; only a meter that brings its own current is misled by one."""
    if taken.ask.mode not in scene.plain.modes or taken.ask.word:
        return None
    pads = scene.red, scene.black
    around: Circuit = notes.page((notes.key(circuit), pads)).once("moving", lambda: _around(circuit, *pads))
    page = notes.page(key_of(around.elements, around.state.celsius, scene.plain, pads))
    ask, value = replace(taken.ask, ranges=()), (taken.observed.display or taken.observed).value
    found: tuple[Residue | None] = page.once(
        ("charge", ask, value),
        lambda: (residue(around, scene.red, scene.black, scene.plain, ask, value),))
    return found[0]


def _around(circuit: Circuit, red: str, black: str) -> Circuit:
    """What can matter between the pads while capacitors charge; circuits that differ elsewhere share it."""
    return replace(circuit, elements=moving_block(Question(circuit, red, black, red, black, None, ())))


def _next_to(circuit: Circuit, net: str) -> tuple[str, ...]:
    """Nets that share a part with a net."""
    near: dict[str, None] = {}
    for part, _ in circuit.board.pins_on(net):
        for _, other in part.pins:
            if other != net:
                near[other] = None
    return tuple(near)


def _if_it_gives(scene: Scene, circuit: Circuit, taken: Taken,
                 slip: Slip, notes: Notes) -> list[tuple[float, Slip]]:
    row: Floats = healthy_on(stage_of([replace(scene, readings=(taken,))], notes, [circuit]), BOARDS)[0]
    prior = math.log(PRIORS[slip.kind])
    seen = taken.observed
    if seen.value is None:
        share = float(np.isinf(row).mean())
        return [(prior + math.log(share), slip)] if share > 0.01 else []
    fit = joint_fit(row[None, None, :], [seen], np.ones(1), False)
    return [(prior + fit.log_likelihood, slip)] if fit.fits else []
