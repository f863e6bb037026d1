"""The vocabulary of board files: which kinds of part there are, their pins, words and options.

Only words and shapes; what a kind is made of electrically belongs to `incircuit.parts`.
The tables below are the one list that the reader, the writer, the help and `parts` share.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from incircuit.board.kindspec import GENERAL, KindSpec, OptionSpec

__all__ = ["ALIASES", "GENERAL", "KINDS", "KindSpec", "OptionSpec", "kind_named"]


def _ohms(name: str, doc: str) -> OptionSpec:
    return OptionSpec(name, doc, unit="Ω")


_VF = OptionSpec("vf", "forward drop, at 1 mA unless @current follows", form="drop", unit="V", zero=False)


def _junction(prefix: str = "", drop: bool = False) -> tuple[OptionSpec, ...]:
    """is n rs of a junction under a prefix, as SPICE names them."""
    dot = f"{prefix}." if prefix else ""
    spice = (
        OptionSpec(f"{dot}is", "saturation current", unit="A", zero=False),
        OptionSpec(f"{dot}n", "emission coefficient", zero=False),
        _ohms(f"{dot}rs", "series resistance"),
    )
    named = OptionSpec(f"{dot}vf", _VF.doc, form="drop", unit="V", zero=False)
    return (named, *spice) if drop else spice


_BREAKDOWN = (
    OptionSpec("bv", "breakdown voltage", unit="V", zero=False),
    OptionSpec("ibv", "current at breakdown", unit="A", zero=False),
)
_DIODE = (*_junction(drop=True), *_BREAKDOWN)
_ZENER = (OptionSpec("vz", "zener voltage", unit="V", zero=False), *_DIODE)
_BIPOLAR = (
    OptionSpec("is", "saturation current", unit="A", zero=False),
    OptionSpec("bf", "forward current gain", zero=False),
    OptionSpec("br", "reverse current gain", zero=False),
    OptionSpec("hfe", "forward current gain", zero=False, same_as="bf"),
)
_R1R2 = (_ohms("r1", "base resistor"), _ohms("r2", "base–emitter resistor"))
_VTO = OptionSpec("vto", "threshold voltage", unit="V", signed=True)
_KP = OptionSpec("kp", "transconductance in A/V²", zero=False)
_BODY = _junction("body", drop=True)
_VTH = OptionSpec("vth", "threshold voltage", unit="V", zero=False)
_FREEWHEEL = (
    OptionSpec("freewheel", "none where the package has no diode", form="word", choices=("none",)),
    *_junction("freewheel", drop=True),
)
_SWITCHES = (_VTH, _VTO, _KP, *_FREEWHEEL, *_BODY)
_DCR = _ohms("dcr", "resistance of a winding")
_DCR_EACH = _ohms("dcr.*", "resistance of the winding of that name")
_K = OptionSpec("k", "coupling of its windings, below 1", zero=False)
_TURNS = OptionSpec("turns.*", "turns of the winding of that name, or their ratio", zero=False)
_LEAK = _ohms("leak", "leakage resistance")
_RGK = _ohms("rgk", "resistance from gate to cathode inside")
_TWO = (("1", "2"),)


_PASSIVE = (
    KindSpec("resistor", "a resistor", "bare", _TWO, unit="Ω", value_required=True,
             word_groups=(("film", "wirewound", "carbon"),)),
    KindSpec("fuse", "a fuse; its rating in amps", "bare", _TWO, aliases=("thermal-fuse",),
             word_groups=(("", "blown", "open"),), options=(_ohms("r", "resistance when whole"),),
             rating_unit="A"),
    KindSpec("jumper", "a jumper or solder bridge", "bare", _TWO, word_groups=(("closed", "open"),),
             options=(_ohms("r", "resistance when closed"),)),
    KindSpec("link", "a wire link or zero-ohm part", "bare", _TWO,
             options=(_ohms("r", "resistance of the link"),)),
    KindSpec("shunt", "a current-sensing resistor", "bare", _TWO, unit="Ω", value_required=True),
    KindSpec("thermistor", "a thermistor; its value at 25 °C", "bare", _TWO, unit="Ω", value_required=True,
             word_groups=(("ntc", "ptc"),), options=(OptionSpec("b", "B constant", unit="K", zero=False),)),
    KindSpec("varistor", "a varistor; its value the varistor voltage", "bare", _TWO, unit="V",
             value_required=True, options=(_LEAK,), rating_unit="W"),
    KindSpec("spark-gap", "a spark gap or gas tube; its value the sparkover voltage", "bare", _TWO,
             aliases=("gas-tube",), rating_unit="V"),
    KindSpec("potentiometer", "a potentiometer; W is the wiper", "named", (("1", "W", "3"),), unit="Ω",
             value_required=True, options=(OptionSpec("at", "wiper's way from 1 to 3", form="percent"),)),
    KindSpec("capacitor", "a capacitor", "bare", (("1", "2"), ("+", "-")), unit="F", value_required=True,
             word_groups=(("ceramic", "film", "electrolytic", "tantalum"),),
             options=(_ohms("esr", "equivalent series resistance"), _LEAK)),
    KindSpec("crystal", "a crystal or resonator", "bare", _TWO, unit="Hz"),
)

_WOUND = (
    KindSpec("inductor", "a coil", "bare", _TWO, aliases=("coil",), unit="H",
             word_groups=(("power", "signal"),), options=(_DCR,)),
    KindSpec("choke", "two windings, A and B, on one core", "named", (("A1", "A2", "B1", "B2"),), unit="H",
             options=(_DCR, _DCR_EACH, _K)),
    KindSpec("transformer", "windings: pins that share a name without its number (P1 P2, S1 S2 S3), the "
             "lowest number dotted; its value the inductance of the first", "open",
             (), unit="H", options=(_DCR, _DCR_EACH, _TURNS, _K)),
    KindSpec("relay", "a relay at rest: coil A1 A2, contacts COM NO NC", "named", (("A1", "A2"),),
             optional=("COM", "NO", "NC"), options=(_DCR, _ohms("r", "resistance of the closed contact"))),
    KindSpec("motor-winding", "a motor's windings: U V W, or one winding; its value the inductance of each",
             "bare", (("U", "V", "W"), ("1", "2")), unit="H", aliases=("motor", "winding"),
             word_groups=(("star", "delta"),), options=(_ohms("dcr", "resistance of each phase"),)),
)

_JUNCTIONS = (
    KindSpec("diode", "a diode", "named", (("A", "K"),),
             word_groups=(("rectifier", "signal", "fast", "schottky"),), options=_DIODE),
    KindSpec("dual-diode", "two diodes in one package", "named",
             (("A1", "A2", "K"), ("A", "K1", "K2"), ("A", "M", "K")),
             word_layouts=(("common-cathode", ("A1", "A2", "K")), ("common-anode", ("A", "K1", "K2")),
                           ("series", ("A", "M", "K"))),
             word_groups=(("fast", "rectifier", "signal", "schottky"),
                          ("common-cathode", "common-anode", "series")), options=_DIODE),
    KindSpec("bridge", "a bridge rectifier", "named", (("AC1", "AC2", "+", "-"),),
             word_groups=(("rectifier", "fast", "schottky"),), options=_DIODE),
    KindSpec("three-phase-bridge", "a three-phase bridge rectifier", "named",
             (("AC1", "AC2", "AC3", "+", "-"),), aliases=("bridge3",),
             word_groups=(("rectifier", "fast"),), options=_DIODE),
    KindSpec("zener", "a zener diode", "named", (("A", "K"),), unit="V", value_required=True,
             value_options=("vz",), instead_of_value=("bv",), options=_ZENER, rating_unit="W"),
    KindSpec("tvs", "a transient suppressor", "named", (("A", "K"),), unit="V", value_required=True,
             value_options=("vz",), instead_of_value=("bv",),
             word_groups=(("unidirectional", "bidirectional"),), options=_ZENER, rating_unit="W"),
    KindSpec("led", "a light-emitting diode", "named", (("A", "K"),),
             word_groups=(("red", "orange", "yellow", "green", "blue", "white", "infrared"),),
             options=_DIODE),
    KindSpec("thyristor", "a thyristor", "named", (("A", "K", "G"),), aliases=("scr",),
             options=(*_junction(), _RGK)),
    KindSpec("triac", "a triac", "named", (("MT1", "MT2", "G"),), options=(_RGK,)),
    KindSpec("diac", "a trigger diode; its value the breakover voltage, 32 V where none is typed", "bare",
             _TWO, unit="V", rating_unit="W"),
)

_TRANSISTORS = (
    KindSpec("npn", "an NPN transistor", "named", (("B", "C", "E"),), word_groups=(("small", "power"),),
             options=_BIPOLAR),
    KindSpec("pnp", "a PNP transistor", "named", (("B", "C", "E"),), word_groups=(("small", "power"),),
             options=_BIPOLAR),
    KindSpec("darlington", "a Darlington pair", "named", (("B", "C", "E"),), word_groups=(("npn", "pnp"),),
             options=(*_BIPOLAR, *_R1R2)),
    KindSpec("bias-transistor", "a transistor with its base resistors inside", "named", (("B", "C", "E"),),
             aliases=("bias-resistor-transistor", "digital-transistor"), word_groups=(("npn", "pnp"),),
             options=(*_BIPOLAR, *_R1R2)),
    KindSpec("nmos", "an n-channel MOS transistor", "named", (("G", "D", "S"),),
             word_groups=(("small", "power"),), options=(_VTO, _KP, *_BODY)),
    KindSpec("pmos", "a p-channel MOS transistor", "named", (("G", "D", "S"),),
             word_groups=(("small", "power"),), options=(_VTO, _KP, *_BODY)),
    KindSpec("igbt", "an IGBT, with its freewheel diode unless freewheel=none", "named", (("G", "C", "E"),),
             options=(_VTH, *_FREEWHEEL)),
    KindSpec("half-bridge", "two switches with freewheel diodes between + and -", "named",
             (("+", "OUT", "-"),), optional=("GH", "GL", "EH"), word_groups=(("igbt", "mos"),),
             options=_SWITCHES),
    KindSpec("three-phase-inverter", "six switches with freewheel diodes; NU NV NW instead of - if open",
             "named", (("+", "-", "U", "V", "W"), ("+", "U", "V", "W", "NU", "NV", "NW")),
             aliases=("inverter-module", "three-phase-inverter-module"),
             optional=("GUH", "GUL", "GVH", "GVL", "GWH", "GWL"), word_groups=(("igbt", "mos"),),
             options=_SWITCHES),
)

_OTHERS = (
    KindSpec("optocoupler", "an optocoupler: LED A K, transistor C E", "named", (("A", "K", "C", "E"),),
             aliases=("opto",), optional=("B",), options=(*_junction("led", drop=True), *_BIPOLAR)),
    KindSpec("shunt-regulator", "a three-pin shunt reference", "named", (("A", "K", "REF"),),
             aliases=("shunt-reference",)),
    KindSpec("linear-regulator", "a linear regulator", "named", (("IN", "OUT", "GND"),),
             aliases=("regulator",), options=(_ohms("r", "divider from OUT to GND"),)),
    KindSpec("switch", "a switch or contact", "bare", _TWO, aliases=("contact",),
             word_groups=(("open", "closed"),), options=(_ohms("r", "resistance when closed"),)),
    KindSpec("connector", "a connector; its pins are the user's own", "open", (), aliases=("plug",)),
    KindSpec("chip", "an integrated circuit; its pins are the user's own", "open", (), aliases=("ic",),
             options=(OptionSpec("supply", "supply pins", form="pins"),
                      OptionSpec("ground", "ground pins", form="pins"),
                      _ohms("load", "resistance from supply to ground"),
                      OptionSpec("clamps", "none where the pins have no clamp diodes", form="word",
                                 choices=("none",)), _VF)),
)

KINDS: Mapping[str, KindSpec] = MappingProxyType(
    {spec.name: spec for spec in (*_PASSIVE, *_WOUND, *_JUNCTIONS, *_TRANSISTORS, *_OTHERS)})
"""Every kind by its name, in the order of the help."""

ALIASES: Mapping[str, str] = MappingProxyType(
    {alias: spec.name for spec in KINDS.values() for alias in spec.aliases})
"""Other words for kinds, each with the kind's name."""


def kind_named(word: str) -> KindSpec | None:
    """The kind a word stands for, aliases included; None for an unknown word.

    >>> kind_named("coil").name, kind_named("resister")
    ('inductor', None)
    """
    return KINDS.get(ALIASES.get(word, word))
