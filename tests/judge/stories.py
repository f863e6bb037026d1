"""Stories as a technician takes them: around the suspected part first, then about it, then elsewhere."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TypeVar

from incircuit.board import Board
from incircuit.board.model import Part
from incircuit.circuit.build import build
from incircuit.errors import EngineError
from incircuit.meter.profile import Meter
from incircuit.meter.typed import last_digit, parse_shown
from incircuit.parts import defects_of, prior
from incircuit.story import moments, parse_story
from tests.judge.bench import Bench, Hidden, bench, read

T = TypeVar("T")
Asked = tuple[str, str, str]
EXTRAS = 0.3
"""How often a story has a lifted lead or a removed part."""


@dataclass(frozen=True)
class Trial:
    """A bench with its hidden faults and the story read on it."""

    name: str
    board: Board
    faults: tuple[Hidden, ...]
    text: str
    sound: str  # the same story on the same bench without the faults

    @property
    def shows(self) -> bool:
        """Whether any reading differs from that of the same board without the faults: 1 % and 3 digits."""
        both = zip(self.text.splitlines(), self.sound.splitlines(), strict=True)
        return any(_differ(a, b) for a, b in both)

    def __str__(self) -> str:
        return f"{self.name} hidden {', '.join(map(str, self.faults)) or 'nothing'}"


def trials(name: str, board: Board, meter: Meter, count: int, rng: random.Random,
           even: bool) -> Iterator[Trial]:
    """`count` stories. `even`: every part and fault as likely as any other; else as often as parts fail."""
    made = lost = 0
    while made + lost < count:
        worked_on = rng.random() < 0.1
        on = replace(board, flags=(*board.flags, "worked-on")) if worked_on else board
        faults = _hidden(on, worked_on, rng, even)
        try:
            on_bench, later = bench(on, meter, faults, rng), rng.random()
            text = story(on_bench, random.Random(later))
            sound = story(replace(on_bench, faults=(), suspects=on_bench.faults), random.Random(later))
        except EngineError:  # ngspice found no operating point: nothing to judge
            lost += 1
            assert lost <= 2 + 0.05 * count, "ngspice finds no operating points"
            continue
        made += 1
        yield Trial(name, on, faults, text, sound)


def _differ(a: str, b: str) -> bool:
    if a == b:
        return False
    mode, one, other = a.split()[2], a.split()[3], b.split()[3]
    values = [parse_shown(text, mode).value for text in (one, other)]
    if None in values:
        return True
    x, y = (float(v or 0.0) for v in values)
    return abs(x - y) > 0.01 * abs(y) + 3.0 * last_digit(other, mode)


def _hidden(board: Board, worked_on: bool, rng: random.Random, even: bool) -> tuple[Hidden, ...]:
    how = rng.random()
    if how < 0.15:
        return ()
    if worked_on:
        if rng.random() < 0.4:
            return (_bridge(board, rng),)
        hands = [h for h in every_fault(board) if h.word in ("missing", "reversed", "wrong-value")]
        return (sized(rng.choice(hands), rng),) if hands else ()
    first = _one(board, rng, even)
    if how > 0.92:
        second = _one(board, rng, even)
        if second.part != first.part:
            return first, second
    return (first,)


def every_fault(board: Board) -> list[Hidden]:
    """Every single fault of every part, without its magnitude."""
    circuit = build(board)
    return [Hidden(p.ref, d, None) for p in board.parts for d in defects_of(p, circuit.of_part(p.ref))]


def _one(board: Board, rng: random.Random, even: bool) -> Hidden:
    listed = every_fault(board)
    if not even:
        weights = [prior(board.part(h.part), h.defect, False) for h in listed if h.defect]
        return sized(rng.choices(listed, weights)[0], rng)
    ref = rng.choice(sorted({h.part for h in listed}))
    word = rng.choice(sorted({h.word for h in listed if h.part == ref}))
    return sized(rng.choice([h for h in listed if (h.part, h.word) == (ref, word)]), rng)


def sized(hidden: Hidden, rng: random.Random) -> Hidden:
    """With a magnitude drawn as such faults come."""
    assert hidden.defect is not None
    size = hidden.defect.magnitude
    if size is None:
        return hidden
    nodes = size.nodes(400)
    value = rng.choices([v for v, _ in nodes], [w for _, w in nodes])[0]
    return replace(hidden, size=value)


def _bridge(board: Board, rng: random.Random) -> Hidden:
    pairs = sorted({pair for p in board.parts if p.kind != "connector"
                    for pair in combinations(sorted({net for _, net in p.pins}), 2)})
    return Hidden("", None, 10.0 ** rng.uniform(-3.0, 0.0), rng.choice(pairs))


def story(on: Bench, rng: random.Random) -> str:
    """Four to twelve readings, with a lead lifted or a part removed at times."""
    board = on.board
    suspects = on.faults or on.suspects
    near = [f.part for f in suspects if f.part] or [p.ref for p in board.parts]
    suspect = board.part(rng.choice(near))
    if suspects and suspects[0].between != ("", ""):
        ends = set(suspects[0].between)
        suspect = rng.choice([p for p in board.parts if len(ends & {n for _, n in p.pins}) == 2] or [suspect])
    if rng.random() < 0.15:
        suspect = rng.choice(_beside(board, suspect) or [suspect])
    wanted = rng.randint(4, 12)
    lines = [f"meter {on.meter.name}"]
    plan = list(_about(board, suspect, rng))
    for part in _shuffled(_beside(board, suspect), rng):
        plan += list(_about(board, part, rng))[:2]
    plan = list(dict.fromkeys(plan))[:max(4, wanted - 2)]
    plan += [_anywhere(board, rng) for _ in range(2)]
    lines += taken(on, lines, plan, rng)
    if rng.random() < EXTRAS and len(suspect.pins) > 1:
        lines += _taken_out(on, suspect, lines, rng)
    return "\n".join(lines) + "\n"


def _taken_out(on: Bench, suspect: Part, before: Sequence[str], rng: random.Random) -> list[str]:
    """The suspect with a lead lifted and read there, or removed and the place read again."""
    if len(suspect.pins) == 2:
        pin, other = rng.sample(suspect.pin_names, 2)
        said = [f"lift {suspect.ref}.{pin}"]
        a, b = f"{suspect.ref}.{pin}", suspect.net(other)
        plan = [(a, b, "diode"), (b, a, "diode"), (a, b, "ohms")]
        if suspect.net(other) in _hidden_nets(on.board):
            return []
    else:
        said = [f"remove {suspect.ref}"]
        plan = list(_about(on.board, suspect, rng))[:3]
    return [*said, *taken(on, [*before, *said], plan, rng)]


def taken(on: Bench, before: Sequence[str], plan: Sequence[Asked], rng: random.Random) -> list[str]:
    """Lines of a story that goes on after some, read by ngspice. Raises EngineError."""
    return [_line(on, before, asked, rng) for asked in plan]


def taken_alike(benches: Sequence[Bench], before: Sequence[str], plan: Sequence[Asked],
                later: float) -> tuple[list[str], ...]:
    """The same lines on each of some benches; what ngspice does not find on one is left out of all."""
    def found(on: Bench, asked: Asked, rng: random.Random) -> str:
        try:
            return _line(on, before, asked, rng)
        except EngineError:
            return ""

    every = []
    for on in benches:
        rng = random.Random(later)
        every.append([found(on, asked, rng) for asked in plan])
    kept = [k for k in range(len(plan)) if all(lines[k] for lines in every)]
    return tuple([lines[k] for k in kept] for lines in every)


def _line(on: Bench, before: Sequence[str], asked: Asked, rng: random.Random) -> str:
    """A reading as typed; what it draws of `rng` does not hang on what it finds."""
    red, black, mode = asked
    probe = parse_story("\n".join([*before, f"{red} {black} {mode} OL"]) + "\n", board=on.board)
    moment = moments(probe, on.board)[0][-1]
    shown = read(on, moment.state, moment.fitted, red, black, mode, rng)
    if mode == "continuity" and rng.random() < 0.5:
        assert on.meter.continuity is not None
        shown = "beep" if shown != "OL" and float(shown) < on.meter.continuity.beeps_below else "silent"
    return f"{red} {black} {mode} {shown}"


def all_about(board: Board, ref: str, most: int) -> list[Asked]:
    """Every reading between the nets of a part and of the parts beside it: both ways on diode test, and ohms.

    What a technician takes who wants to be sure; the part's own first, `most` at most.
    """
    part = board.part(ref)
    found: dict[Asked, None] = {}
    for near in (part, *_beside(board, part)):
        nets = sorted({net for _, net in near.pins} - _hidden_nets(board))
        for a, b in combinations(nets, 2):
            found |= dict.fromkeys([(a, b, "diode"), (b, a, "diode"), (a, b, "ohms")])
    return list(found)[:most]


def _about(board: Board, part: Part, rng: random.Random) -> Iterator[Asked]:
    """Every pair of its nets, both ways on diode test, and ohms."""
    nets = sorted({net for _, net in part.pins} - _hidden_nets(board))
    for a, b in _shuffled(list(combinations(nets, 2)), rng)[:4]:
        red, black = (a, b) if rng.random() < 0.5 else (b, a)
        yield red, black, "diode"
        yield black, red, "diode"
        yield red, black, "ohms" if rng.random() < 0.8 else "continuity"


def _anywhere(board: Board, rng: random.Random) -> Asked:
    nets = sorted({net for part in board.parts for _, net in part.pins} - _hidden_nets(board))
    red, black = rng.sample(nets, 2)
    return red, black, rng.choice(["diode", "ohms"])


def _hidden_nets(board: Board) -> set[str]:
    return {net.name for net in board.nets if net.hidden}


def _beside(board: Board, part: Part) -> list[Part]:
    """Parts that share a net with it, the nets on which few meet first."""
    found: dict[str, Part] = {}
    for net in sorted({n for _, n in part.pins}, key=lambda n: (len(list(board.pins_on(n))), n)):
        for other, _ in board.pins_on(net):
            if other.ref != part.ref and len({n for _, n in other.pins}) > 1:
                found.setdefault(other.ref, other)
    return list(found.values())[:8]


def _shuffled(items: list[T], rng: random.Random) -> list[T]:
    return rng.sample(items, len(items))
