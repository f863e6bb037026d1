"""What parts are made of, for the solver. Plain immutable data; SI units throughout.

Nodes are strings: the net's name for a pin, or a name with a blank in it (``"Q1 mid"``) for a
node inside a part, which no net can have. Element names are unique: ``"REF what"``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias, TypeGuard

INFINITE = float("inf")


@dataclass(frozen=True, slots=True)
class Spread:
    """How much a parameter differs from part to part, as half widths of rectangular distributions.

    A healthy part's parameter is nominal + `shared`·U(group) + `own`·U(element), each U uniform in
    [-1, 1]; rectangular because a tolerance states limits and nothing more (JCGM 100:2008, GUM,
    4.3.7). `shared` is common to all elements that name the same `group` (one package, one
    `alike` set, one batch); `own` is the element's alone. For a `Resistance` or `Capacitance`
    both are relative to the value; for a `Junction` they are volts of forward drop; for a
    `Channel` volts of threshold.
    """

    own: float = 0.0
    shared: float = 0.0
    group: str = ""


EXACT = Spread()
DRAWN_AT = 1e-3
"""Current [A] at which the spread of a junction's drop is known: that of a diode test."""


@dataclass(frozen=True, slots=True)
class Coil:
    """What a winding is for alternating current, beside its `Resistance.henries`.

    Windings of one `core` share its flux, the dotted end of each is its node a. `leakage` is 1 − k, k the
    coupling to any other winding of the core, `leakage_spread` the half width of its natural logarithm;
    `spread` is that of the inductance, relative. `turns_shorted`: some turns of it are closed on themselves.
    `cosine` is that of the angle between the axes of two windings: 1 on one limb, −1/2 for three phases.
    """

    core: str
    leakage: float
    leakage_spread: float = 0.0
    spread: Spread = EXACT
    turns_shorted: bool = False
    cosine: float = 1.0


@dataclass(frozen=True, slots=True)
class Resistance:
    """A resistance between nodes a and b. 0 is a link; `INFINITE` is no connection.

    `henries` > 0 marks a winding (its resistance is what direct current meets), `coil` says more.
    `ntc_beta` [K] > 0 makes it a thermistor, R(T) = R25·exp(B(1/T − 1/T25)); `tempco` [1/K] is linear.
    `hotter` [K] is how much the part is above the board, here and in the others.
    """

    name: str
    part: str
    a: str
    b: str
    ohms: float
    spread: Spread = EXACT
    henries: float = 0.0
    ntc_beta: float = 0.0
    tempco: float = 0.0
    hotter: float = 0.0
    coil: Coil | None = None


@dataclass(frozen=True, slots=True)
class Junction:
    """A semiconductor junction, in SPICE's own parameters at 25 °C.

    i = is·(exp(v/(n·Vt)) − 1) inside a series resistance `rs`; reverse breakdown at `bv` with
    current `ibv`. `eg` [eV] and `xti` carry the temperature dependence of `is`. `spread` [V] is that of the
    drop at `DRAWN_AT`, `n_spread` that of `n`, relative, which leaves the drop there as it is.
    """

    name: str
    part: str
    anode: str
    cathode: str
    is_: float
    n: float = 1.0
    rs: float = 0.0
    bv: float = INFINITE
    ibv: float = 1e-3
    eg: float = 1.11
    xti: float = 3.0
    spread: Spread = EXACT
    hotter: float = 0.0
    n_spread: Spread = EXACT


@dataclass(frozen=True, slots=True)
class Coupling:
    """`gain` times the current of a junction, drawn out of node `source` into node `sink`.

    With two junctions and two couplings a bipolar transistor is the transport form of Ebers–Moll:
    base–emitter junction is/bf with gain bf from collector to emitter, base–collector junction
    is/br with gain br from emitter to collector. `junction` is that junction's element name.
    """

    name: str
    part: str
    junction: str
    source: str
    sink: str
    gain: float


@dataclass(frozen=True, slots=True)
class Channel:
    """A square-law channel between d and s steered by g (Shichman–Hodges, level 1, W = L, λ = 0).

    `sign` is +1 for an n channel, −1 for a p channel; `vto` keeps SPICE's sign (negative for an
    enhancement p channel). The gate is insulated. `charge` [V] is the gate–source voltage an
    unconnected gate has kept (0: none).
    """

    name: str
    part: str
    d: str
    g: str
    s: str
    vto: float
    kp: float
    sign: int = 1
    charge: float = 0.0
    spread: Spread = EXACT
    hotter: float = 0.0


@dataclass(frozen=True, slots=True)
class Capacitance:
    """A capacitance between a and b: open for direct current. `volts` is a charge left on it, a against b.

    `esr` [ohm] lies in series; `esr_spread` is its spread, relative.
    """

    name: str
    part: str
    a: str
    b: str
    farads: float
    esr: float = 0.0
    volts: float = 0.0
    spread: Spread = EXACT
    esr_spread: Spread = EXACT


Element: TypeAlias = Resistance | Junction | Coupling | Channel | Capacitance


@dataclass(frozen=True, slots=True)
class Change:
    """What a defect does to a part: element names that go and elements that come.

    A drifted resistance is its own element removed and the drifted one added under another name.
    """

    remove: frozenset[str] = frozenset()
    add: tuple[Element, ...] = field(default=())


def stores(element: Element) -> TypeGuard[Capacitance | Resistance]:
    """Whether it is a capacitance or a winding: what farads and esr are about."""
    return isinstance(element, Capacitance) or (isinstance(element, Resistance) and bool(element.coil))


def nodes_of(element: Element) -> tuple[str, ...]:
    """Every node an element touches, controlling gate included."""
    match element:
        case Resistance() | Capacitance():
            return (element.a, element.b)
        case Junction():
            return (element.anode, element.cathode)
        case Coupling():
            return (element.source, element.sink)
        case Channel():
            return (element.d, element.g, element.s)
