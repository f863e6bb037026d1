"""Random boards of physical parts, and beside each its deck for ngspice in ngspice's own cards.

Nothing here knows the program's elements: a part is written twice, as a line of a board file and as
D, Q, M and R cards with the same parameters. Numbers are written in full in the deck, where `M`
would be milli.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

NETS = ["A", "B", "C", "D", "E", "F", "+15V", "HV-"]
OHMS = [0.05, 1.0, 10.0, 47.0, 330.0, 4.7e3, 68e3, 1e6]


@dataclass
class Twin:
    """A board file and its deck, growing part by part."""

    seed: int
    nets: list[str] = field(default_factory=lambda: list(NETS))
    lines: list[str] = field(default_factory=list)
    cards: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.r = random.Random(self.seed)

    def name(self, letter: str) -> str:
        return f"{letter}{len(self.lines)}"

    def pick(self, count: int) -> list[str]:
        return self.r.sample(self.nets, count)

    def line(self, text: str) -> None:
        self.lines.append(text)

    def resistance(self, a: str, b: str, ohms: float) -> None:
        if a != b:
            self.cards.append(f"r{len(self.cards)} {a} {b} {ohms!r}")

    def junction(self, anode: str, cathode: str, p: dict[str, float]) -> None:
        if anode != cathode:
            k = len(self.cards)
            self.cards += [f"d{k} {anode} {cathode} md{k}",
                           f".model md{k} d " + " ".join(f"{key}={value!r}" for key, value in p.items())]

    def bipolar(self, kind: str, c: str, b: str, e: str, p: dict[str, float]) -> None:
        k = len(self.cards)
        self.cards += [f"q{k} {c} {b} {e} mq{k}",
                       f".model mq{k} {kind} " + " ".join(f"{key}={value!r}" for key, value in p.items())]

    def diode_set(self, breakdown: bool = False) -> dict[str, float]:
        p = {"is": self.r.choice([2.52e-9, 1e-14, 3e-7, 7.02767e-9, 5e-12]),
             "n": self.r.choice([1.0, 1.752, 1.05, 1.9]), "rs": self.r.choice([0.0, 0.568, 0.02, 8.0])}
        return p | ({"bv": self.r.choice([1.3, 2.4, 12.0]), "ibv": 5e-3} if breakdown else {})

    def bipolar_set(self) -> dict[str, float]:
        return {"is": self.r.choice([1e-14, 6.7e-15, 2e-13]), "bf": self.r.choice([40.0, 250.0]),
                "br": self.r.choice([1.0, 4.0])}


def options(p: dict[str, float], prefix: str = "") -> str:
    return " ".join(f"{prefix}{key}={value!r}" for key, value in p.items())


def resistor(t: Twin) -> None:
    a, b = t.pick(2)
    ohms = t.r.choice(OHMS)
    t.line(f"{t.name('R')} resistor {a} {b} {ohms!r}")
    t.resistance(a, b, ohms)


def wound(t: Twin) -> None:
    kind = t.r.choice(["inductor", "choke", "transformer", "star", "delta", "relay"])
    ohms = t.r.choice(OHMS[:5])
    ref = t.name("L")
    if kind == "inductor":
        a, b = t.pick(2)
        t.line(f"{ref} inductor {a} {b} dcr={ohms!r}")
        t.resistance(a, b, ohms)
    elif kind in ("choke", "transformer"):
        a, b, c, d = t.pick(4)
        pins = ("A1", "A2", "B1", "B2") if kind == "choke" else ("P1", "P2", "S1", "S2")
        typed = " ".join(f"{pin}={net}" for pin, net in zip(pins, (a, b, c, d), strict=True))
        t.line(f"{ref} {kind} {typed} dcr={ohms!r}" if kind == "choke"
               else f"{ref} {kind} {typed} dcr.P={ohms!r} dcr.S={2 * ohms!r}")
        t.resistance(a, b, ohms)
        t.resistance(c, d, ohms if kind == "choke" else 2 * ohms)
    elif kind == "relay":
        a, b, com, nc = t.pick(4)
        t.line(f"{ref} relay A1={a} A2={b} COM={com} NC={nc} dcr={ohms!r} r=0.05")
        t.resistance(a, b, ohms)
        t.resistance(com, nc, 0.05)
    else:
        u, v, w = t.pick(3)
        t.line(f"{ref} motor-winding U={u} V={v} W={w} {kind} dcr={ohms!r}")
        ends = ((u, v), (v, w), (w, u)) if kind == "delta" else tuple((pin, f"{ref}y") for pin in (u, v, w))
        for a, b in ends:
            t.resistance(a, b, ohms)


def contact(t: Twin) -> None:
    kind = t.r.choice(["fuse", "jumper", "switch", "potentiometer", "capacitor"])
    ref = t.name("S")
    if kind == "potentiometer":
        a, w, b = t.pick(3)
        t.line(f"{ref} potentiometer 1={a} W={w} 3={b} 10k at=30%")
        t.resistance(a, w, 3e3)
        t.resistance(w, b, 7e3)
        return
    a, b = t.pick(2)
    if kind == "capacitor":
        t.line(f"{ref} capacitor {a} {b} 100n leak=220000")
        t.resistance(a, b, 220e3)
        return
    t.line(f"{ref} {kind} {a} {b} r=0.3" + (" closed" if kind == "switch" else ""))
    t.resistance(a, b, 0.3)


def diode(t: Twin) -> None:
    a, k = t.pick(2)
    kind = t.r.choice(["diode signal", "led green", "zener 5.1", "tvs 6 unidirectional"])
    p = t.diode_set(kind.startswith(("zener", "tvs")))
    word, _, rest = kind.partition(" ")
    t.line(f"{t.name('D')} {word} A={a} K={k} {rest} {options(p)}")
    t.junction(a, k, p)


def dual_diode(t: Twin) -> None:
    x, y, z = t.pick(3)
    form, p = t.r.choice(["common-cathode", "common-anode", "series"]), t.diode_set()
    pins = {"common-cathode": ("A1", "A2", "K"), "common-anode": ("K1", "K2", "A"), "series": ("A", "K", "M")}
    typed = " ".join(f"{pin}={net}" for pin, net in zip(pins[form], (x, y, z), strict=True))
    t.line(f"{t.name('D')} dual-diode {typed} {form} {options(p)}")
    for anode, cathode in {"common-cathode": ((x, z), (y, z)), "common-anode": ((z, x), (z, y)),
                           "series": ((x, z), (z, y))}[form]:
        t.junction(anode, cathode, p)


def bridge(t: Twin) -> None:
    phases = t.r.choice([2, 3])
    *ac, plus, minus = t.pick(phases + 2)
    p = t.diode_set()
    typed = " ".join(f"AC{k}={net}" for k, net in enumerate(ac, start=1))
    t.line(f"{t.name('B')} {'bridge' if phases == 2 else 'three-phase-bridge'} {typed} +={plus} -={minus} "
           + options(p))
    for net in ac:
        t.junction(net, plus, p)
        t.junction(minus, net, p)


def module(t: Twin) -> None:
    """Switches without gate leads: their freewheel junctions."""
    p = t.diode_set()
    kind = t.r.choice(["igbt", "half-bridge", "three-phase-inverter", "mos half-bridge"])
    if kind == "igbt":
        g, c, e = t.pick(3)
        t.line(f"{t.name('Q')} igbt G={g} C={c} E={e} vth=5.5 {options(p, 'freewheel.')}")
        t.junction(e, c, p)
        t.line(f"{t.name('R')} resistor {g} {e} 10000")
        t.resistance(g, e, 10e3)
        return
    outs = 3 if "inverter" in kind else 1
    *out, plus, minus = t.pick(outs + 2)
    names = "UVW" if outs == 3 else ("OUT",)
    typed = " ".join(f"{name}={net}" for name, net in zip(names, out, strict=True))
    word, prefix = ("mos", "body.") if kind.startswith("mos") else ("igbt", "freewheel.")
    t.line(f"{t.name('M')} {kind.split()[-1]} +={plus} -={minus} {typed} {word} {options(p, prefix)}")
    for net in out:
        t.junction(net, plus, p)
        t.junction(minus, net, p)


def mos(t: Twin) -> None:
    g, d, s = t.pick(3)
    kind, p = t.r.choice(["nmos", "pmos"]), t.diode_set()
    vto, kp = t.r.choice([0.9, 2.1, 4.0]) * (1 if kind == "nmos" else -1), t.r.choice([2e-5, 0.3])
    t.line(f"{t.name('Q')} {kind} G={g} D={d} S={s} vto={vto!r} kp={kp!r} {options(p, 'body.')}")
    k = len(t.cards)
    t.cards += [f"m{k} {d} {g} {s} {s} mm{k} l=1e-4 w=1e-4",
                f".model mm{k} {kind} level=1 vto={vto!r} kp={kp!r} gamma=0 lambda=0 is=1e-200"]
    t.junction(*((s, d) if kind == "nmos" else (d, s)), p)
    t.line(f"{t.name('R')} resistor {g} {s} 100000")
    t.resistance(g, s, 100e3)


def transistor(t: Twin) -> None:
    b, c, e = t.pick(3)
    kind, p = t.r.choice(["npn", "pnp"]), t.bipolar_set()
    form = t.r.choice(["plain", "bias", "opto"])
    if form == "plain":
        t.line(f"{t.name('Q')} {kind} B={b} C={c} E={e} {options(p)}")
        t.bipolar(kind, c, b, e, p)
    elif form == "bias":
        ref = t.name("Q")
        t.line(f"{ref} bias-transistor B={b} C={c} E={e} {kind} r1=4700 r2=47000 {options(p)}")
        t.resistance(b, f"{ref}b", 4.7e3)
        t.resistance(f"{ref}b", e, 47e3)
        t.bipolar(kind, c, f"{ref}b", e, p)
    else:
        a, k = t.pick(2)
        led = t.diode_set()
        t.line(f"{t.name('U')} optocoupler A={a} K={k} C={c} E={e} B={b} {options(led, 'led.')} {options(p)}")
        t.junction(a, k, led)
        t.bipolar("npn", c, b, e, p)


PASSIVE: tuple[Callable[[Twin], None], ...] = (resistor, resistor, resistor, wound, contact)
JUNCTIONS: tuple[Callable[[Twin], None], ...] = (diode, diode, dual_diode, bridge, module)
ACTIVE: tuple[Callable[[Twin], None] | None, ...] = (None, mos, transistor)


def random_twin(seed: int) -> Twin:
    """A small board; at most one transistor, since two can hold each other in either of two states."""
    t = Twin(seed)
    for _ in range(t.r.randint(2, 9)):
        t.r.choice(PASSIVE)(t)
    for _ in range(t.r.randint(0, 4)):
        t.r.choice(JUNCTIONS)(t)
    active = t.r.choice(ACTIVE)
    if active is not None:
        active(t)
    return t


def large_twin(seed: int, parts: int) -> Twin:
    """A board of hundreds of parts: every part between nets close to each other in a long list."""
    t = Twin(seed)
    every = [f"N{k}" for k in range(parts // 3)]
    while len(t.lines) < parts:
        at = t.r.randrange(len(every) - 8)
        t.nets = [*every[at:at + 7], every[0] if t.r.random() < 0.1 else every[at + 7]]
        t.r.choice(PASSIVE + JUNCTIONS)(t)
    t.nets = every
    return t
