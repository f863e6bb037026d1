"""Junctions and bipolar transistors out of class data and what the part overrides."""

from __future__ import annotations

from dataclasses import replace

from incircuit.parts.data import SILICON_EG, BipolarSet, JunctionSet, is_from_drop, row
from incircuit.parts.data import junction_set as class_junction
from incircuit.parts.elements import INFINITE, Coupling, Element, Junction
from incircuit.parts.sheet import Sheet, drop_option, given, number, spread, tolerance

_SPICE = ("is", "n", "rs", "bv", "ibv")
_TOLERANCE_ELSEWHERE = frozenset({"zener", "tvs", "thyristor", "darlington", "bias-transistor", "chip",
                                  "linear-regulator"})
"""Kinds whose tolerance is that of a voltage or resistance, not of the forward drop."""


def junction_parameters(sheet: Sheet, class_name: str, prefix: str = "") -> JunctionSet:
    """The set of a part's junctions: class data, or what the part says under `prefix` (``body.is``).

    Any SPICE parameter given puts the others of the group to SPICE's own defaults; ``vf=`` keeps n
    and rs and solves is at 25 °C. Either way the spread is that of parts of one known type.
    """
    base = class_junction(class_name)
    dot = f"{prefix}." if prefix else ""
    keys = {key: dot + key for key in _SPICE}
    known = row("junctions", "known")
    found = base
    if given(sheet, *keys.values()):
        found = JunctionSet(number(sheet, keys["is"], 1e-14), number(sheet, keys["n"], 1.0),
                            number(sheet, keys["rs"], 0.0), number(sheet, keys["bv"], INFINITE),
                            number(sheet, keys["ibv"], 1e-3))
        found = replace(found, spread=known.number("spread"), match=known.number("match"))
    if given(sheet, f"{dot}vf"):
        found = _from_drop(sheet, dot, found, base)
    typed = tolerance(sheet)
    if typed is not None and sheet.spec.name not in _TOLERANCE_ELSEWHERE:
        whole = typed * found.drop(1e-3)
        found = replace(found, spread=whole, match=min(found.match, whole))
    return found


def _from_drop(sheet: Sheet, dot: str, found: JunctionSet, base: JunctionSet) -> JunctionSet:
    key = f"{dot}vf"
    if given(sheet, f"{dot}is"):
        sheet.complain(f"{key}= and {dot}is= say the same thing twice", f"{key}=", "give one of the two")
        return found
    pair = drop_option(sheet, key)
    if pair is None:
        return found
    volts, amps = pair
    try:
        is_ = is_from_drop(volts, amps, found.n, found.rs)
    except ValueError as error:
        sheet.complain(f"{key}={sheet.part.option(key)}: {error}", f"{key}=")
        return found
    # the drop of an LED keeps its temperature coefficient, (v − eg)/T, so eg moves with it
    shift = volts - base.drop(amps) if base.eg > SILICON_EG else 0.0
    known = row("junctions", "known")
    return replace(found, is_=is_, eg=base.eg + shift, xti=base.xti, spread=known.number("spread"),
                   match=known.number("match"))


def junction(sheet: Sheet, what: str, anode: str, cathode: str, data: JunctionSet,
             package: bool = False, label: str = "drop") -> Junction:
    """A junction of this part. `package`: one of several in one package, which match."""
    return Junction(sheet.name(what), sheet.ref, anode, cathode, data.is_, data.n, data.rs, data.bv,
                    data.ibv, data.eg, data.xti, spread(sheet, data.spread, data.match, label, package),
                    n_spread=spread(sheet, data.n_spread, 0.0, f"{label} slope", package))


def bipolar_parameters(sheet: Sheet, base: BipolarSet) -> BipolarSet:
    """A transistor's set: class data, or is=, bf= (hfe=), br= with SPICE's defaults for the others."""
    if given(sheet, "bf") and given(sheet, "hfe"):
        sheet.complain("bf= and hfe= say the same thing twice", "hfe=", "give one of the two")
    gain = "bf" if given(sheet, "bf") else "hfe"
    known = row("junctions", "known")
    found = base
    if given(sheet, "is", "bf", "br"):
        found = BipolarSet(number(sheet, "is", 1e-14), number(sheet, gain, 100.0), number(sheet, "br", 1.0),
                           known.number("spread"), known.number("match"))
    elif given(sheet, "hfe"):
        found = replace(found, bf=number(sheet, "hfe", base.bf))
    typed = tolerance(sheet)
    if typed is not None and sheet.spec.name not in _TOLERANCE_ELSEWHERE:
        drop = JunctionSet(is_=found.is_ / found.bf).drop(1e-3)
        found = replace(found, spread=typed * drop, match=min(found.match, typed * drop),
                        apart=min(found.apart, typed * drop))
    return found


def bipolar(sheet: Sheet, what: str, sign: int, b: str, c: str, e: str,
            data: BipolarSet) -> tuple[Element, ...]:
    """A bipolar transistor, `sign` +1 NPN, −1 PNP: transport Ebers–Moll, as `Coupling` says.

    The junctions share their spread but for `apart`, which stands for reverse gains that differ from
    type to type: on a drawn board the gain is that much lower where the junction takes more
    (`circuit.sampling`), so that the transport currents cancel at zero collector–emitter voltage.
    Breakdown of base–emitter (5 to 9 V, from memory) lies above what a meter gives.
    """
    match = data.match if sheet.group else 0.0
    vary = spread(sheet, data.spread, match, "drop", package=True)
    collector = replace(vary, own=max(match, 0.0 if sheet.group else data.apart))
    slope = spread(sheet, data.n_spread, 0.0, "slope", package=True)
    pre = f"{what} " if what else ""
    be, bc = sheet.name(f"{pre}B-E"), sheet.name(f"{pre}B-C")
    ends = {"be": (b, e), "bc": (b, c)} if sign > 0 else {"be": (e, b), "bc": (c, b)}
    out, back = (c, e) if sign > 0 else (e, c)
    return (
        Junction(be, sheet.ref, *ends["be"], data.is_ / data.bf, spread=vary, n_spread=slope),
        Junction(bc, sheet.ref, *ends["bc"], data.is_ / data.br, spread=collector,
                 n_spread=slope),
        Coupling(sheet.name(f"{pre}forward"), sheet.ref, be, out, back, data.bf),
        Coupling(sheet.name(f"{pre}reverse"), sheet.ref, bc, back, out, data.br),
    )
