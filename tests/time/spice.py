"""Transients and small signals by ngspice on the same elements: the reference for courses, farads, esr."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from incircuit.circuit import ngspice
from incircuit.circuit.spice import deck
from incircuit.meter.profile import Source
from incircuit.parts.elements import Capacitance, Element, Resistance, nodes_of

Floats = NDArray[np.float64]


def named(elements: Sequence[Element], red: str, black: str) -> dict[str, str]:
    """Node to ngspice's name; zero-ohm links are joined, black is 0."""
    root: dict[str, str] = {}

    def find(node: str) -> str:
        while root.setdefault(node, node) != node:
            node = root[node]
        return node

    for e in elements:
        for node in nodes_of(e):
            find(node)
        if isinstance(e, Resistance) and e.ohms == 0.0:
            root[find(e.b)] = find(e.a)
    names = {find(black): "0"}
    for node in [red, *root]:
        names.setdefault(find(node), f"n{len(names)}")
    return {node: names[find(node)] for node in [*root, red, black]}


def cards(elements: Sequence[Element], names: dict[str, str], celsius: float) -> list[str]:
    """Every element, capacitances with their charge and series resistance; 10 TΩ from every node to black."""
    found = deck(elements, names, celsius=celsius)
    for k, c in enumerate(e for e in elements if isinstance(e, Capacitance)):
        a, b = names[c.a], names[c.b]
        if a != b and c.farads > 0.0:
            found += [f"cx{k} {a} y{k} {c.farads!r} ic={c.volts!r}", f"ry{k} y{k} {b} {max(c.esr, 1e-3)!r}"]
    found += [f"rz{k} {n} 0 1e13" for k, n in enumerate(dict.fromkeys(names.values())) if n != "0"]
    return found


def run(text: str) -> dict[str, NDArray[Any]]:
    """Every vector of the last plot; complex where the analysis is."""
    with ngspice._lock:
        simulator = ngspice._instance()
        log: list[str] = []
        try:
            ngspice._call(log, simulator, simulator.load_circuit, text)
            ngspice._call(log, simulator, simulator.exec_command, "run")
            library = simulator._ngspice_shared
            ffi = import_module("PySpice.Spice.NgSpice.Shared").ffi
            plot = simulator.plot_names[0]
            vectors = library.ngSpice_AllVecs(plot.encode())
            found: dict[str, NDArray[Any]] = {}
            index = 0
            while vectors != ffi.NULL and vectors[index] != ffi.NULL:
                name = ffi.string(vectors[index])
                info = library.ngGet_Vec_Info(plot.encode() + b"." + name)
                count = info.v_length
                if info.v_realdata != ffi.NULL:
                    found[name.decode()] = np.array([info.v_realdata[i] for i in range(count)])
                else:
                    data = info.v_compdata
                    found[name.decode()] = np.array([complex(data[i].cx_real, data[i].cx_imag)
                                                     for i in range(count)])
                index += 1
            assert found, log
            return found
        finally:
            ngspice._call([], simulator, simulator.exec_command, "destroy all")
            ngspice._call([], simulator, simulator.exec_command, "remcirc")


def transient(elements: Sequence[Element], red: str, black: str, source: Source, leads: float, sign: int,
              times: Floats, celsius: float = 25.0) -> Floats:
    """Pad voltage [V] red against black at times [s], the meter touching at 0."""
    return charging(elements, red, black, source, leads, times, sign, celsius)[0]


def charging(elements: Sequence[Element], red: str, black: str, source: Source, leads: float, times: Floats,
             sign: int = 1, celsius: float = 25.0) -> tuple[Floats, dict[str, Floats]]:
    """The same, and what each capacitance holds then [V], by its name."""
    names = named(elements, red, black)
    node, behind = names[red], source.resistance + leads
    if sign > 0:
        law = f"({source.open_circuit!r} - v({node}))/{behind!r}"
        meter = [f"bm 0 {node} i=min({source.current!r}, {law})"]
    else:
        law = f"({source.open_circuit!r} + v({node}))/{behind!r}"
        meter = [f"bm {node} 0 i=min({source.current!r}, {law})"]
    if not np.isfinite(source.current):
        meter = [f"vm m 0 {sign * source.open_circuit!r}", f"rm m {node} {behind!r}"]
    end = float(times[-1]) * 1.01
    # A net that hangs on blocking junctions alone jitters, and steps shrink without end, unless it has some
    # capacitance: a femtofarad is 40 ns on 40 MΩ. The option for it stays on for every later deck.
    stray = [f"cs{k} {n} 0 1e-15" for k, n in enumerate(dict.fromkeys(names.values())) if n != "0"]
    lines = ["* course", *cards(elements, names, celsius), *stray, *meter,
             ".options reltol=1e-4 abstol=1e-13 vntol=1e-7 method=gear maxord=2 gmin=1e-12 itl4=200",
             f".options temp={celsius!r} tnom=25", f".tran {end / 500!r} {end!r} 0 {end / 500!r} uic", ".end"]
    found = run("\n".join(lines))

    def at(vector: NDArray[Any]) -> Floats:
        return np.asarray(np.interp(times, found["time"], vector))

    held = {}
    for k, c in enumerate(e for e in elements if isinstance(e, Capacitance)):
        if f"y{k}" in found:
            a = found[names[c.a]] if names[c.a] != "0" else 0.0 * found["time"]
            held[c.name] = at(a - found[f"y{k}"])
    return at(found[node]), held


def impedance(elements: Sequence[Element], red: str, black: str, hertz: float,
              celsius: float = 25.0) -> complex:
    """Impedance [ohm] between two nodes at the resting point, windings with their inductance."""
    names = named(elements, red, black)
    lines: list[str] = []
    plain = []
    cores: dict[str, list[tuple[str, float]]] = {}
    for k, e in enumerate(elements):
        if isinstance(e, Resistance) and e.henries and names[e.a] != names[e.b]:
            lines += [f"lw{k} {names[e.a]} w{k} {e.henries!r}",
                      f"rw{k} w{k} {names[e.b]} {max(e.ohms, 2e-4)!r}"]
            if e.coil:
                on = cores.setdefault(e.coil.core, [])
                lines += [f"kc{k}x{n} lw{k} {other} {e.coil.cosine * (1.0 - e.coil.leakage)!r}"
                          for n, (other, _) in enumerate(on)]
                on.append((f"lw{k}", e.coil.leakage))
                if e.coil.turns_shorted:
                    lines += [f"lt{k} t{k} 0 1e-3", f"rt{k} t{k} 0 1e-6"]
                    lines += [f"ks{k}x{n} lt{k} {other} "
                              f"{(1.0 if other == f'lw{k}' else e.coil.cosine) * (1.0 - leak)!r}"
                              for n, (other, leak) in enumerate(on)]
                    on.append((f"lt{k}", e.coil.leakage))
        else:
            plain.append(e)
    text = ["* small signal", *cards(plain, names, celsius), *lines, f"im 0 {names[red]} dc 0 ac 1",
            f".options temp={celsius!r} tnom=25 gmin=1e-12", f".ac lin 1 {hertz!r} {hertz!r}", ".end"]
    return complex(run("\n".join(text))[names[red]][0])
