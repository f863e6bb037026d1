"""Players that know the board and not what is hidden: by thinking, by rules of thumb, by luck."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

from incircuit.advise.conditions import Condition, conditions_of, same_on
from incircuit.advise.outcomes import Outcomes, Probe, outcomes_of
from incircuit.advise.pairs import pairs_of
from incircuit.advise.worksheet import seconds
from incircuit.board import HEALTHY, Board, State
from incircuit.board.state import pad_node
from incircuit.circuit.build import build
from incircuit.drill.bench import Bench, act
from incircuit.drill.hidden import Seen
from incircuit.drill.way import typed
from incircuit.meter.profile import load_meter
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about
from incircuit.predict.variants import NO_CHANGE

Player = Callable[[Bench], Bench]
METER = load_meter("handheld")
_SAME = {"missing": "open"}


@cache
def in_place(board: Board) -> tuple[tuple[Condition, ...], Outcomes]:
    """Every single fault of a board, and what each reading in place shows; condition 0 is healthy."""
    circuit = build(board)
    conditions = conditions_of(circuit)
    changes = [c.change for c in conditions]
    return conditions, outcomes_of(circuit, [NO_CHANGE, *changes], METER, pairs_of(circuit, changes))


def told(bench: Bench, line: str) -> tuple[Bench, Seen | None]:
    after, answer = act(bench, line)
    return after, answer.seen


def value_of(seen: Seen) -> float:
    return float("inf") if seen.shown.value is None else seen.shown.value


def verdict_of(condition: Condition | None) -> tuple[str, str]:
    """What a condition would be named as: part and word."""
    if condition is None:
        return "", ""
    word = condition.fault.split()[0]
    return condition.part, _SAME.get(word, word)


def thinking(bench: Bench) -> Bench:
    """Keeps what every reading leaves possible, asks what splits that best, lifts only where nothing does."""
    conditions, table = in_place(bench.case.board)
    left = list(range(len(conditions) + 1))
    bench, left = _questions(bench, table, {k: k for k in left}, left, HEALTHY)
    state = HEALTHY
    for _ in range(2):
        if len(_verdicts(bench, left)) < 2:
            break
        best = _best_lift(bench, left, state)
        if best is None:
            break
        pin, state, table, columns = best
        bench, _ = told(bench, f"lift {pin}")
        bench, left = _questions(bench, table, columns, left, state)
    if 0 in left:
        return act(bench, "healthy")[0]
    chosen = conditions[left[0] - 1]
    return act(bench, f"fault {chosen.part} {chosen.fault}")[0]


def _verdicts(bench: Bench, left: list[int]) -> set[tuple[str, str]]:
    conditions, _ = in_place(bench.case.board)
    return {verdict_of(conditions[k - 1] if k else None) for k in left}


def _questions(
    bench: Bench, table: Outcomes, columns: dict[int, int], left: list[int], state: State
) -> tuple[Bench, list[int]]:
    """Read on until no reading tells what is left apart; `columns`: where each stands in the table."""
    last: Probe | None = None
    asked: set[int] = set()
    while len(_verdicts(bench, left)) > 1:
        best = _best(bench, table, [columns[k] for k in left], asked, last)
        if best is None:
            break
        asked.add(best)
        last = table.probes[best]
        bench, seen = told(bench, typed(last, state))
        assert seen is not None
        value = value_of(seen)
        left = [
            k for k in left if table.low[best, columns[k]] <= value <= table.high[best, columns[k]]
        ] or left
    return bench, left


def _best(
    bench: Bench, table: Outcomes, left: list[int], asked: set[int], last: Probe | None
) -> int | None:
    """The reading that tells most pairs of what is left apart, for its cost."""
    found, worth = None, 0.0
    for at in range(len(table.probes)):
        value = _pairs(table, at, left) / seconds(bench.costs, last, table.probes[at])
        if at not in asked and value > worth:
            found, worth = at, value
    return found


def _pairs(table: Outcomes, at: int, left: list[int]) -> float:
    """How many pairs of conditions one reading tells apart."""
    return float((table.low[at, left][:, None] > table.high[at, left][None, :]).sum())


def _best_lift(
    bench: Bench, left: list[int], before: State
) -> tuple[str, State, Outcomes, dict[int, int]] | None:
    """The lead of a suspect after which one reading tells most pairs apart, for the work."""
    conditions, _ = in_place(bench.case.board)
    found, worth = None, 0.0
    columns = {k: n for n, k in enumerate(left, start=1)}
    for ref in list(dict.fromkeys(conditions[k - 1].part for k in left if k))[:4]:
        part = bench.case.board.part(ref)
        for pin in part.pin_names[:3]:
            state = State(before.lifted | {(ref, pin)})
            circuit = build(bench.case.board, state)
            changes = [NO_CHANGE, *(same_on(circuit, conditions[k - 1]) if k else NO_CHANGE for k in left)]
            ends = (pad_node(ref, pin), part.net(pin))
            nets = dict.fromkeys(net for name, net in part.pins if name != pin)
            pairs = [(min(a, b), max(a, b)) for a in ends for b in nets if a != b]
            table = outcomes_of(circuit, changes, METER, pairs)
            most = max(
                (_pairs(table, at, list(columns.values())) for at in range(len(table.probes))), default=0.0
            )
            if most / bench.costs.lift(part) > worth:
                found, worth = (f"{ref}.{pin}", state, table, columns), most / bench.costs.lift(part)
    return found


def rule_of_thumb(bench: Bench) -> Bench:
    """Reads across each part, takes for bad what does not read as the part alone, lifts to make sure."""
    board = bench.case.board
    hidden = {net.name for net in board.nets if net.hidden}
    for part in board.parts:
        pads = [net for net in dict.fromkeys(net for _, net in part.pins) if net not in hidden]
        if len(pads) != 2:
            continue
        mode = "ohms" if part.kind in ("resistor", "shunt", "fuse", "inductor") else "diode"
        question = ask_about(board, HEALTHY, pads[0], pads[1], part.ref)
        alone = predict(question, METER, [mode], [False])[0].alone
        bench, seen = told(bench, f"{pads[0]} {pads[1]} {mode}")
        assert seen is not None
        if alone is None or alone.holds(seen.shown.value):
            continue
        first, second = part.pin_names[:2]
        bench, _ = told(bench, f"lift {part.ref}.{first}")
        bench, seen = told(bench, f"{part.ref}.{first} {part.ref}.{second} {mode}")
        assert seen is not None
        if not alone.holds(seen.shown.value):
            word = "open" if seen.shown.value is None else "short"
            return act(bench, f"fault {part.ref} {word}")[0]
        bench, _ = told(bench, f"resolder {part.ref}.{first}")
    return act(bench, "healthy")[0]


def random_player(bench: Bench) -> Bench:
    """Five readings anywhere, a lead lifted anywhere, and a verdict out of the air."""
    rng = random.Random(f"player {bench.case.level} {bench.case.seed}")
    board = bench.case.board
    nets = [n for n in board.net_names() if n not in {net.name for net in board.nets if net.hidden}]
    for _ in range(5):
        red, black = rng.sample(nets, 2)
        bench, _ = told(bench, f"{red} {black} {rng.choice(('diode', 'ohms'))}")
    part = rng.choice(board.parts)
    bench, _ = told(bench, f"lift {part.ref}.{rng.choice(part.pin_names)}")
    conditions, _ = in_place(board)
    if rng.random() < 1.0 / 6.0:
        return act(bench, "healthy")[0]
    chosen = rng.choice(conditions)
    return act(bench, f"fault {chosen.part} {chosen.fault}")[0]
