"""Every kind expands; what each is made of; spreads; nodes of lifted pins."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter

import pytest

from incircuit.board.kinds import KINDS
from incircuit.board.model import Part
from incircuit.parts import EXPANDERS, expand, expand_all
from incircuit.parts.elements import (
    Capacitance,
    Channel,
    Coupling,
    Element,
    Junction,
    Resistance,
    Spread,
    nodes_of,
)
from tests.parts.samples import board, every_sample, named, sample


def junctions(part: Part) -> dict[str, Junction]:
    """Junctions by what follows the reference in their names."""
    return {e.name.partition(" ")[2]: e for e in expand(part) if isinstance(e, Junction)}


def wires(part: Part) -> set[tuple[str, str]]:
    """(anode, cathode) of every junction, pins without the n of their nets."""
    return {(e.anode.removeprefix("n"), e.cathode.removeprefix("n")) for e in junctions(part).values()}


def ohms(part: Part) -> dict[str, float]:
    return {e.name.partition(" ")[2]: e.ohms for e in expand(part) if isinstance(e, Resistance)}


def test_every_kind_has_an_expansion_with_a_doc() -> None:
    assert set(EXPANDERS) == set(KINDS)
    assert all((f.__doc__ or "").strip() for f in EXPANDERS.values())


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_expansion_is_sound(part: Part) -> None:
    elements = expand(part)
    assert elements == expand(part), "same order every time"
    names = [e.name for e in elements]
    assert len(set(names)) == len(names)
    nets = {net for _, net in part.pins}
    present = set(names)
    for e in elements:
        assert e.part == "X1"
        assert e.name.startswith("X1 ")
        assert all(node in nets or (node.startswith("X1 ") and node.count(" ") >= 1) for node in nodes_of(e))
        assert not isinstance(e, Coupling) or e.junction in present
        assert not isinstance(e, Junction) or (e.is_ > 0.0 and 1.0 <= e.n <= 3.0 and e.spread.own >= 0.0)
        assert not isinstance(e, Resistance) or (e.ohms > 0.0 and abs(e.spread.shared) + e.spread.own < 1.3)
        if isinstance(e, Resistance | Capacitance) and "wiper" not in e.spread.group:
            assert 0.0 < e.spread.own + e.spread.shared < 1.0, "a relative spread must leave it above zero"


PATHLESS = {"varistor", "crystal", "connector", "spark-gap"}


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_only_open_contacts_and_insulators_have_no_elements(part: Part) -> None:
    rests_open = {"open", "blown"} & set(part.words) or (part.kind == "switch" and "closed" not in part.words)
    assert bool(expand(part)) == (part.kind not in PATHLESS and not rests_open)


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_a_lifted_pin_leaves_its_net(part: Part) -> None:
    for pin, net in part.pins:
        lifted = expand(part, {pin: f"X1 {pin}"})
        assert [e.name for e in lifted] == [e.name for e in expand(part)]
        assert all(net not in nodes_of(e) for e in lifted)


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_alike_parts_share_their_group(part: Part) -> None:
    for e in expand(part, group="alike X1 X2"):
        if isinstance(e, Coupling) or e.spread == Spread():
            continue
        if "wiper" in e.spread.group:
            continue  # where a wiper stands is no matter of type
        assert e.spread.group.startswith("alike X1 X2 ")
        assert e.spread.own < e.spread.shared
        if isinstance(e, Resistance | Capacitance):
            assert e.spread.own + e.spread.shared < 1.0


def test_diodes_by_layout() -> None:
    assert wires(sample("diode")) == {("A", "K")}
    assert wires(sample("dual-diode")) == {("A1", "K"), ("A2", "K")}
    assert wires(sample("dual-diode", "common-anode")) == {("A", "K1"), ("A", "K2")}
    assert wires(sample("dual-diode", "series", "schottky")) == {("A", "M"), ("M", "K")}
    assert wires(sample("bridge")) == {("-", "AC1"), ("-", "AC2"), ("AC1", "+"), ("AC2", "+")}
    assert len(wires(sample("three-phase-bridge"))) == 6
    assert wires(sample("tvs", "bidirectional")) == {("A", "X1 mid"), ("K", "X1 mid")}


def test_zener_breaks_down_at_its_voltage() -> None:
    (plain,) = junctions(sample("zener")).values()
    assert (plain.bv, plain.ibv) == (12.0, 5e-3)
    (typed,) = junctions(sample("zener", vz="5V1")).values()
    assert typed.bv == 5.1
    (spice,) = junctions(sample("zener", bv="9", is_="1e-15")).values()
    assert (spice.bv, spice.ibv, spice.is_, spice.n) == (9.0, 1e-3, 1e-15, 1.0)


def test_bipolar_is_the_transport_form() -> None:
    """As documented on Coupling: junctions is/bf and is/br, gains bf and br in opposite senses."""
    part = sample("npn", is_="1e-14", bf="100", br="2")
    be, bc, forward, reverse = expand(part)
    assert isinstance(be, Junction)
    assert isinstance(bc, Junction)
    assert isinstance(forward, Coupling)
    assert isinstance(reverse, Coupling)
    assert (be.anode, be.cathode, bc.anode, bc.cathode) == ("nB", "nE", "nB", "nC")
    assert (be.is_, bc.is_) == (1e-16, 5e-15)
    assert (forward.junction, forward.source, forward.sink, forward.gain) == (be.name, "nC", "nE", 100.0)
    assert (reverse.junction, reverse.source, reverse.sink, reverse.gain) == (bc.name, "nE", "nC", 2.0)
    be, bc, forward, reverse = expand(sample("pnp"))
    assert nodes_of(be) == ("nE", "nB")
    assert nodes_of(bc) == ("nC", "nB")
    assert nodes_of(forward) == ("nE", "nC")
    assert nodes_of(reverse) == ("nC", "nE")


@pytest.mark.parametrize("kind", ["npn", "pnp", "darlington", "bias-transistor", "optocoupler"])
def test_transport_currents_cancel(kind: str) -> None:
    """is of base–emitter times bf equals is of base–collector times br."""
    for group in ("", "alike X1 X2"):
        elements = {e.name: e for e in expand(sample(kind), group=group)}
        pairs = [e for e in elements.values() if isinstance(e, Coupling)]
        for forward, reverse in zip(pairs[::2], pairs[1::2], strict=True):
            be, bc = elements[forward.junction], elements[reverse.junction]
            assert isinstance(be, Junction)
            assert isinstance(bc, Junction)
            assert be.is_ * forward.gain == pytest.approx(bc.is_ * reverse.gain)
            assert (be.spread.shared, be.spread.group) == (bc.spread.shared, bc.spread.group)
            assert be.n_spread == bc.n_spread
            assert be.spread.own <= 0.003


def test_mos_and_igbt() -> None:
    n, p = expand(sample("nmos")), expand(sample("pmos"))
    assert isinstance(n[0], Channel)
    assert isinstance(p[0], Channel)
    assert (n[0].sign, n[0].vto > 0.0, p[0].sign, p[0].vto < 0.0) == (1, True, -1, True)
    assert wires(sample("nmos")) == {("S", "D")}
    assert wires(sample("pmos")) == {("D", "S")}
    assert wires(sample("igbt")) == {("E", "C"), ("C", "X1 mid")}
    assert wires(sample("igbt", freewheel="none")) == {("C", "X1 mid")}
    channel = expand(sample("igbt"))[-1]
    assert isinstance(channel, Channel)
    assert nodes_of(channel) == ("X1 mid", "nG", "nE")
    assert channel.vto - channel.spread.own > 3.5, "no meter may turn an IGBT on (common practice)"


def test_modules() -> None:
    half = sample("half-bridge", pins=("+", "OUT", "-", "GH", "EH"))
    assert {("OUT", "+"), ("-", "OUT")} <= wires(half)
    assert ohms(half)["sense"] < 0.01
    assert sum(isinstance(e, Channel) for e in expand(half)) == 1
    module = sample("three-phase-inverter", pins=("+", "U", "V", "W", "NU", "NV", "NW"))
    assert wires(module) == {(p, "+") for p in "UVW"} | {(f"N{p}", p) for p in "UVW"}
    groups = {e.spread.group for e in junctions(module).values()}
    assert groups == {"X1 drop"}, "one package: its junctions match"
    assert all(e.spread.own <= 0.005 for e in junctions(module).values())


def test_thyristor_and_triac() -> None:
    assert wires(sample("thyristor")) == {("G", "K"), ("A", "X1 base"), ("G", "X1 base")}
    assert ohms(sample("thyristor", rgk="1k")) == {"gate resistance": 1000.0}
    assert {nodes_of(e) for e in expand(sample("triac"))} == {("nG", "nMT1")}


def test_transistors_with_resistors() -> None:
    assert ohms(sample("darlington", r1="8k", r2="150")) == {"r1": 8000.0, "r2": 150.0}
    assert ("E", "C") in wires(sample("darlington"))
    assert ("C", "E") in wires(sample("darlington", "pnp"))
    resistors = {e.name: nodes_of(e) for e in expand(sample("bias-transistor")) if isinstance(e, Resistance)}
    assert resistors == {"X1 r1": ("nB", "X1 base"), "X1 r2": ("X1 base", "nE")}


def test_optocoupler_sides_are_apart() -> None:
    sides = [set(nodes_of(e)) for e in expand(sample("optocoupler"))]
    assert all(not (s & {"nA", "nK"}) or s == {"nA", "nK"} for s in sides)
    with_base = sample("optocoupler", pins=("A", "K", "C", "E", "B"))
    assert {"nB"} < set().union(*(nodes_of(e) for e in expand(with_base)))


def test_chip_clamps() -> None:
    clamps = {("GND", "IN"), ("IN", "VCC"), ("GND", "OUT"), ("OUT", "VCC")}
    assert wires(sample("chip")) == clamps | {("GND", "VCC")}
    assert wires(sample("chip", clamps="none")) == {("GND", "VCC")}
    assert ohms(sample("chip", load="2k2")) == {"load": 2200.0}
    assert expand(sample("chip", pins=("1", "2"))) == ()
    two = sample("chip", pins=("V", "A", "D", "X"), supply="V", ground="A,D")
    assert {("A", "D"), ("D", "A"), ("A", "V"), ("A", "X"), ("X", "V")} == wires(two)


def test_windings() -> None:
    assert ohms(sample("transformer", dcr_P="3", dcr="0.5")) == {"P1-P2": 1.5, "P2-P3": 1.5, "S1-S2": 0.5}
    star, delta = expand(sample("motor-winding", dcr="2")), expand(sample("motor-winding", "delta", dcr="2"))
    assert {nodes_of(e)[1] for e in star} == {"X1 star"}
    assert Counter(n for e in delta for n in nodes_of(e)) == {"nU": 2, "nV": 2, "nW": 2}
    for part in (sample("inductor"), sample("choke"), sample("relay"), sample("motor-winding")):
        winding = expand(part)[0]
        assert isinstance(winding, Resistance)
        assert winding.henries > 0.0
    typed, default = expand(sample("inductor", dcr="45m"))[0], expand(sample("inductor"))[0]
    assert isinstance(typed, Resistance)
    assert isinstance(default, Resistance)
    assert (typed.ohms, typed.henries, typed.tempco) == (0.045, 1e-3, 0.0)
    assert default.tempco == pytest.approx(0.00393)


def test_relay_rests_with_nc_closed() -> None:
    part = sample("relay", pins=("A1", "A2", "COM", "NO", "NC"), r="30m")
    assert {nodes_of(e) for e in expand(part)} == {("nA1", "nA2"), ("nCOM", "nNC")}
    assert ohms(part)["contact"] == 0.03


def test_potentiometer() -> None:
    assert ohms(sample("potentiometer", at="0%")) == {"1-W": 0.0, "W-3": 4700.0}
    assert ohms(sample("potentiometer", at="25%")) == {"1-W": 1175.0, "W-3": 3525.0}
    one, two = (e.spread for e in expand(sample("potentiometer")) if isinstance(e, Resistance))
    assert one.group == two.group
    assert one.shared == -two.shared, "an unknown wiper moves both sides against each other"


def test_passive_values() -> None:
    assert ohms(sample("thermistor")) == {"resistance": 4700.0}
    ntc, ptc = expand(sample("thermistor", b="3950"))[0], expand(sample("thermistor", "ptc"))[0]
    assert isinstance(ntc, Resistance)
    assert isinstance(ptc, Resistance)
    assert (ntc.ntc_beta, ptc.ntc_beta) == (3950.0, 0.0)
    assert ohms(sample("varistor", leak="1M")) == {"leak": 1e6}
    part = sample("capacitor", "electrolytic", esr="0.2", leak="2M2")
    capacitance = expand(part, charge=-3.0)[0]
    assert isinstance(capacitance, Capacitance)
    assert (capacitance.farads, capacitance.esr, capacitance.volts) == (4.7e-6, 0.2, -3.0)
    assert ohms(part) == {"leak": 2.2e6}
    polar = sample("capacitor", "electrolytic", pins=("-", "+"))
    assert nodes_of(expand(polar)[0]) == ("n+", "n-"), "plus first, whatever the order in the file"


def test_contacts() -> None:
    assert ohms(sample("fuse", r="80m")) == {"contact": 0.08}
    assert expand(sample("fuse", "blown", r="80m")) == ()
    assert 0.005 <= ohms(sample("link"))["contact"] <= 0.02
    assert ohms(sample("switch", "closed", r="0")) == {"contact": 0.0}


def test_charge_reaches_the_gate() -> None:
    channel = expand(sample("nmos"), charge=5.0)[0]
    assert isinstance(channel, Channel)
    assert channel.charge == 5.0


def test_spread_of_resistors() -> None:
    def first(*args: str, group: str = "") -> Spread:
        element: Element = expand(board(f"R1 resistor A B 10k {' '.join(args)}").part("R1"), group=group)[0]
        assert isinstance(element, Resistance)
        return element.spread

    assert first() == Spread(own=0.05)
    assert first("1%") == Spread(own=0.01)
    assert first("tol=10%") == Spread(own=0.10)
    assert first("tol=0%") == Spread()
    alike = first("1%", group="alike R1 R2")
    assert alike.group == "alike R1 R2 ohms"
    assert [alike.own, alike.shared] == pytest.approx([0.003, 0.007])


def test_expand_all_uses_alike_groups() -> None:
    elements = expand_all(board("R1 resistor A B 10k\nR2 resistor B C 10k\nR3 resistor C A 1k\nalike R1 R2"))
    groups = [e.spread.group for e in elements if isinstance(e, Resistance)]
    assert groups == ["alike R1 R2 ohms", "alike R1 R2 ohms", ""]


def test_importing_parts_loads_no_numpy() -> None:
    heavy = "('numpy', 'scipy', 'networkx')"
    code = f"import sys, incircuit.parts; sys.exit(any(m in sys.modules for m in {heavy}))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
