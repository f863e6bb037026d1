"""The reference task: 8 nets, 11 resistors, 6 junctions; 1,000 samples × 40 single faults × one reading.

One list of conductances and saturation currents per case serves both engines, so they solve the same numbers.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Before, Guess
from incircuit.circuit.ngspice import _instance
from incircuit.circuit.solve import Solution, guess_of, solve
from incircuit.circuit.source import Drive, drive
from incircuit.circuit.values import Values
from incircuit.parts.elements import Change, Element, Junction, Resistance, Spread
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of

SAMPLES = 1000
FAULTS = 40
RED, BLACK = "n1", "n8"
SOURCE = (float("inf"), 3.0, 2000.0)  # a diode test of 3 V behind 2 k, the same law in both engines

RESISTORS = (("n1", "n2", 10.0), ("n2", "n8", 10e3), ("n1", "n3", 4.7e3), ("n3", "n8", 1.5e3),
             ("n3", "n4", 330.0), ("n4", "n5", 22e3), ("n5", "n8", 100.0), ("n5", "n6", 2.2e3),
             ("n6", "n7", 47.0), ("n7", "n8", 68e3), ("n2", "n7", 150e3))
DIODES = (("n1", "n2"), ("n2", "n4"), ("n4", "n3"), ("n4", "n8"), ("n6", "n8"), ("n7", "n5"))
SIGNAL = (2.52e-9, 1.752, 0.568)  # a common signal diode's IS, N, RS; invented for this task
RECTIFIER = (14.1e-9, 1.98, 0.034)


@dataclass(frozen=True)
class Task:
    """The network of all faults and the values of every case; column = condition·(SAMPLES) + sample."""

    network: Network
    values: Values
    drive: Drive
    start: Guess  # of every condition on the nominal board
    before: Before

    @property
    def cases(self) -> int:
        return len(self.drive.sign)


def elements() -> list[Element]:
    parts: list[Element] = [Resistance(f"R{k} r", f"R{k}", a, b, ohms, Spread(0.05))
                            for k, (a, b, ohms) in enumerate(RESISTORS, start=1)]
    for k, (a, b) in enumerate(DIODES, start=1):
        is_, n, rs = SIGNAL if k % 2 else RECTIFIER
        parts.append(Junction(f"D{k} d", f"D{k}", a, b, is_, n, rs, spread=Spread(0.02)))
    return parts


def faults() -> list[Change]:
    """Resistors open, short, ten times as much and a third; junctions open and short: the first 40."""
    found: list[Change] = []
    for e in elements():
        name = frozenset({e.name})
        ends = (e.a, e.b) if isinstance(e, Resistance) else (e.anode, e.cathode)
        found.append(Change(name))
        found.append(Change(frozenset(), (Resistance(f"{e.part} short", e.part, *ends, 0.01),)))
        if isinstance(e, Resistance) and len(found) < 100:
            found.append(Change(name, (Resistance(f"{e.part} drift", e.part, *ends, 10 * e.ohms),)))
    return found[:FAULTS]


def task(samples: int = SAMPLES) -> Task:
    """All cases: every sample draws every resistance within 5 % and every forward drop within 20 mV."""
    variants = compile_variants(elements(), [NO_CHANGE, *faults()], RED, BLACK)
    nominal = values_of(variants, 0)
    found = guess_of(solve(variants.network, nominal, drive(*SOURCE, scenarios=FAULTS + 1)))
    columns = np.repeat(np.arange(1, FAULTS + 1), samples)  # the healthy board is not counted
    rng = np.random.default_rng(1)
    g, nvt = nominal.g.shape[0], nominal.nvt
    off = np.tile(1.0 / (1.0 + 0.05 * rng.uniform(-1.0, 1.0, (g, samples))), (1, FAULTS))
    drop = np.tile(0.02 * rng.uniform(-1.0, 1.0, (len(DIODES), samples)), (1, FAULTS))
    values = nominal.take(columns)
    values = replace(values, g=values.g * off, is_=values.is_ * np.exp(-drop / nvt))
    return Task(variants.network, values, drive(*SOURCE, scenarios=FAULTS * samples), found,
                Before(nominal.nvt, nominal.is_, columns))


def ours(work: Task, repeats: int = 5) -> tuple[Solution, float]:
    """The answers, and seconds of the fastest of some runs."""
    best = float("inf")
    for _ in range(repeats):
        begin = time.perf_counter()
        solution = solve(work.network, work.values, work.drive, work.start, before=work.before)
        best = min(best, time.perf_counter() - begin)
    return solution, best


class NgspiceRun:
    """The same cases in process: every value altered, then `op`; one deck loaded once."""

    def __init__(self, work: Task) -> None:
        self.work = work
        network = work.network
        node = [f"n{k}" for k in range(network.size)] + ["0"]
        v = [f"vmeter meter 0 {SOURCE[1]!r}", f"rmeter meter {node[network.red]} {SOURCE[2]!r}"]
        r = [f"r{k} {node[a]} {node[b]} 1.0" for k, (a, b) in
             enumerate(zip(network.ends.ra.tolist(), network.ends.rb.tolist(), strict=True))]
        d = []
        for k, junction in enumerate(network.junctions):
            a, b = int(network.ends.ja[k]), int(network.ends.jk[k])
            d += [f"d{k} {node[a]} {node[b]} m{k}",
                  f".model m{k} d is={junction.is_!r} n={junction.n!r} rs={junction.rs!r}"]
        options = ".options temp=25 tnom=25 gmin=1e-12 reltol=1e-6 abstol=1e-15 vntol=1e-9"
        deck = "\n".join(["* reference task", *v, *r, *d, options, ".op", ".end"])
        self.simulator = _instance()
        self.simulator.load_circuit(deck)
        self.red = node[network.red]
        self.g = np.zeros(len(network.resistances))
        self.is_ = np.zeros(len(network.junctions))

    def case(self, column: int) -> float:
        """Pad voltage of one case [V]; only what differs from the last case is altered."""
        values, send = self.work.values, self.simulator.exec_command
        g = np.maximum(values.g[:, column], 1e-15)
        is_ = np.maximum(values.is_[:, column], 1e-40)
        for k in np.flatnonzero(g != self.g).tolist():
            send(f"alter r{k} = {1.0 / float(g[k])!r}")
        for k in np.flatnonzero(is_ != self.is_).tolist():
            send(f"altermod m{k} is = {float(is_[k])!r}")
        self.g, self.is_ = g, is_
        return self.operating_point()

    def operating_point(self) -> float:
        send = self.simulator.exec_command
        send("op")
        library = self.simulator._ngspice_shared
        info = library.ngGet_Vec_Info(f"v({self.red})".encode())
        volts = float(info.v_realdata[0])
        send("destroy all")
        return volts


def by_ngspice(work: Task, columns: np.ndarray) -> tuple[Floats, float, float]:
    """Pad voltages of some cases, seconds a case with the values altered, and of a bare `op`."""
    run = NgspiceRun(work)
    run.case(0)
    begin = time.perf_counter()
    volts = np.array([run.case(int(c)) for c in columns])
    altered = (time.perf_counter() - begin) / len(columns)
    begin = time.perf_counter()
    for _ in range(200):
        run.operating_point()
    return volts, altered, (time.perf_counter() - begin) / 200
