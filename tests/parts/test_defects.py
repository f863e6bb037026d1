"""Every kind has defects; each changes what it says and nothing else."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board.model import Part
from incircuit.parts import Defect, change, defects_of, expand, prior
from incircuit.parts.defects import WORDS, Magnitude, magnitude_of, main_pair
from incircuit.parts.elements import Capacitance, Coupling, Element, Junction, Resistance, nodes_of
from tests.parts.samples import every_sample, named, sample


def defects(part: Part) -> dict[str, Defect]:
    return {d.name: d for d in defects_of(part, expand(part))}


def after(part: Part, name: str, magnitude: float | None = None,
          elements: tuple[Element, ...] | None = None) -> tuple[Element, ...]:
    """The part's elements with a defect."""
    own = expand(part) if elements is None else elements
    what = change(part, own, defects(part)[name], magnitude)
    return tuple(e for e in own if e.name not in what.remove) + what.add


def listed(part: Part) -> set[str]:
    return {name for name, d in defects(part).items() if d.word != "leaky"}


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_every_kind_has_defects(part: Part) -> None:
    found = defects_of(part, expand(part))
    assert found
    assert len({d.name for d in found}) == len(found)
    assert all(d.word in WORDS and d.part == "X1" and d.source and d.share > 0.0 for d in found)
    total = sum(d.share for d in found)
    assert total <= 1.0 + 1e-9
    if expand(part) and part.kind not in ("fuse", "link", "jumper", "switch"):
        assert total == pytest.approx(1.0), "every mode of the handbook is given to some defect"
    assert all(prior(part, d) > 0.0 for d in found)


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_every_change_is_sound(part: Part) -> None:
    own = expand(part)
    names = {e.name for e in own}
    for d in defects_of(part, own):
        what = change(part, own, d)
        assert what.remove or what.add, f"{d.name} changes nothing"
        assert what.remove <= names
        added = [e.name for e in what.add]
        assert len(set(added)) == len(added)
        assert not set(added) & names, "what is added has another name"
        assert all(e.part == "X1" and e.name.startswith("X1 ") for e in what.add)
        now = {e.name: e for e in after(part, d.name)}
        for e in now.values():
            assert not isinstance(e, Coupling) or e.junction in now, f"{d.name}: coupling lost"


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_names_added_by_different_defects_differ(part: Part) -> None:
    """All faults of a part go into one network: a name may stand for one thing only."""
    seen: dict[str, Element] = {}
    own = expand(part)
    for d in defects_of(part, own):
        for e in change(part, own, d).add:
            assert seen.setdefault(e.name, e) == e


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_defects_follow_lifted_pins(part: Part) -> None:
    """With every pin lifted no change touches a net."""
    pads = {pin: f"X1 {pin}" for pin in part.pin_names}
    own = expand(part, pads)
    for d in defects_of(part, own):
        for e in change(part, own, d, pin_nodes=pads).add:
            assert all(node.startswith("X1 ") for node in nodes_of(e)), (d.name, e)


def test_words_of_common_parts() -> None:
    assert listed(sample("resistor")) == {"open", "short", "drifted", "missing", "wrong-value"}
    assert listed(sample("diode")) == {"open", "short", "reversed", "missing"}
    assert listed(sample("capacitor", "electrolytic")) == {"open", "short", "drifted", "dried", "high-esr",
                                                           "reversed", "missing", "wrong-value"}
    assert "reversed" not in defects(sample("capacitor"))
    assert "reversed" not in defects(sample("tvs", "bidirectional"))
    assert {"open G", "open C", "open E", "short C-E", "short G-E", "short G-C"} <= set(defects(
        sample("igbt", pins=("G", "C", "E"))))
    assert "short +--" in defects(sample("bridge"))
    assert "open AC1-+" in defects(sample("bridge"))
    assert "short P1-S1" in defects(sample("transformer"))
    assert "short A1-B1" in defects(sample("choke"))
    assert "short COM-NO" in defects(sample("relay", pins=("A1", "A2", "COM", "NO", "NC")))
    assert set(defects(sample("switch"))) == {"short", "leaky"}
    assert "short" not in defects(sample("link"))
    assert "short MT1-MT2" in defects(sample("triac"))
    assert "short OUT-EH" not in defects(sample("half-bridge", pins=("+", "OUT", "-", "EH")))


def test_open_takes_away() -> None:
    assert after(sample("diode"), "open") == ()
    left = after(sample("dual-diode"), "open A1")
    assert [nodes_of(e) for e in left] == [("nA2", "nK")]
    left = after(sample("bridge"), "open AC1-+")
    assert {nodes_of(e) for e in left} == {("nAC2", "n+"), ("n-", "nAC1"), ("n-", "nAC2")}
    assert len(after(sample("motor-winding"), "open V")) == 2


def test_open_pin_of_a_transistor_keeps_the_rest_inside() -> None:
    """With its collector lead open the base–collector junction still hangs on the inner collector."""
    left = after(sample("npn"), "open C")
    assert len(left) == 4
    assert all("nC" not in nodes_of(e) for e in left)
    assert {nodes_of(e) for e in left if isinstance(e, Junction)} == {("nB", "nE"), ("nB", "X1 C open")}


def test_short_and_leaky_add_a_resistance() -> None:
    (bridge,) = change(sample("npn"), expand(sample("npn")), defects(sample("npn"))["short C-E"]).add
    assert isinstance(bridge, Resistance)
    assert set(nodes_of(bridge)) == {"nC", "nE"}
    assert bridge.ohms == 0.01
    leak = after(sample("diode"), "leaky", 470.0)[-1]
    assert isinstance(leak, Resistance)
    assert leak.ohms == 470.0


def test_drift_scales_and_renames() -> None:
    (r,) = after(sample("resistor"), "drifted", 1.5)
    assert isinstance(r, Resistance)
    assert r.ohms == pytest.approx(7050.0)
    assert r.name != "X1 resistance"
    left = after(sample("potentiometer"), "drifted 1-W", 3.0)
    assert sorted(e.ohms for e in left if isinstance(e, Resistance)) == [2350.0, 7050.0]
    (c,) = after(sample("capacitor"), "drifted", 0.5)
    assert isinstance(c, Capacitance)
    assert c.farads == pytest.approx(2.35e-6)
    assert after(sample("resistor"), "wrong-value") != ()
    scaled = after(sample("potentiometer"), "wrong-value", 10.0)
    assert sum(e.ohms for e in scaled if isinstance(e, Resistance)) == pytest.approx(47000.0)


def test_dried_electrolytic_loses_capacitance_and_gains_esr() -> None:
    (c,) = after(sample("capacitor", "electrolytic", esr="0.1"), "dried", 0.25)
    assert isinstance(c, Capacitance)
    assert [c.farads, c.esr] == pytest.approx([4.7e-6 / 4, 6.4])
    (worn,) = after(sample("capacitor", "electrolytic", esr="0.1"), "high-esr", 10.0)
    assert isinstance(worn, Capacitance)
    assert [worn.farads, worn.esr] == pytest.approx([4.7e-6, 1.0])


@pytest.mark.practice
def test_end_of_life_of_an_electrolytic() -> None:
    """A fifth of the capacitance lost goes with twice the series resistance."""
    (c,) = after(sample("capacitor", "electrolytic", esr="0.1"), "dried", 0.8)
    assert isinstance(c, Capacitance)
    assert c.esr == pytest.approx(0.2, rel=0.05)


def test_reversed() -> None:
    (d,) = after(sample("diode"), "reversed")
    assert nodes_of(d) == ("nK", "nA")
    left = after(sample("bridge"), "reversed")
    assert {nodes_of(e) for e in left} == {("n+", "nAC1"), ("n+", "nAC2"), ("nAC1", "n-"), ("nAC2", "n-")}
    left = after(sample("npn"), "reversed C-E")
    assert nodes_of(left[0]) == ("nB", "nC")
    left = after(sample("optocoupler"), "reversed")
    assert any(nodes_of(e) == ("nE", "nC") for e in left if isinstance(e, Junction))


def test_a_fault_sees_the_lifted_pin() -> None:
    part = sample("igbt")
    own = expand(part, {"C": "X1 C"})
    (bridge,) = change(part, own, defects(part)["short C-E"]).add
    assert set(nodes_of(bridge)) == {"X1 C", "nE"}


def test_pins_on_one_net_cannot_be_shorted_further() -> None:
    part = Part("X1", "dual-diode", (("A1", "a"), ("A2", "a"), ("K", "k")))
    assert change(part, expand(part), defects(part)["short A1-A2"]).add == ()


def test_second_fault_on_what_is_gone() -> None:
    part = sample("dual-diode")
    left = after(part, "open A1")
    names = {d.name for d in defects_of(part, left)}
    assert "open A1" not in names
    assert {"open A2", "short A1-K"} <= names


@pytest.mark.published
def test_handbook_shares_arrive() -> None:
    """SD-18 (aluminium electrolytic: open .35, short .53) and 338B from memory (bipolar: short .73)."""
    hands = 0.98  # the rest are mistakes of hands
    found = defects(sample("capacitor", "electrolytic"))
    assert found["open"].share == pytest.approx(0.35 * hands)
    assert found["short"].share + found["leaky"].share == pytest.approx(0.53 * hands)
    assert found["dried"].share + found["high-esr"].share == pytest.approx(0.10 * hands)
    transistor = defects(sample("npn"))
    shorts = sum(d.share for d in transistor.values() if d.word in ("short", "leaky"))
    assert shorts == pytest.approx(0.73 * hands)
    assert transistor["short C-E"].share > transistor["short B-E"].share


def test_prior_of_a_board_worked_on() -> None:
    part = sample("diode")
    found = defects(part)
    turned = found["reversed"]
    assert prior(part, turned, worked_on=True) == pytest.approx(20.0 * prior(part, turned))
    assert prior(part, found["short"], worked_on=True) == prior(part, found["short"])
    electrolytic, ceramic = sample("capacitor", "electrolytic"), sample("capacitor")
    assert prior(electrolytic, defects(electrolytic)["short"]) > prior(ceramic, defects(ceramic)["short"])


@pytest.mark.practice
def test_short_covers_what_a_shorted_switch_reads() -> None:
    """Common practice: 0.000 to 0.024 V at about 1 mA; leaky goes on where short ends."""
    short, leaky = magnitude_of("short"), magnitude_of("leaky")
    assert short.low * 1e-3 < 0.0005
    assert short.high * 1e-3 >= 0.024
    assert leaky.low == short.high
    half = sum(w for v, w in short.nodes(100) if v < 1.0)
    assert half > 0.75, "most shorts are hard"


@given(st.sampled_from(["short", "leaky", "drifted-resistance", "drifted-capacitance", "drifted-winding",
                        "drifted-contact", "dried", "wrong-value"]), st.integers(1, 40))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_magnitude_nodes_are_a_distribution(name: str, count: int) -> None:
    m: Magnitude = magnitude_of(name)
    nodes = m.nodes(count)
    assert sum(w for _, w in nodes) == pytest.approx(1.0)
    assert all(m.low <= v <= m.high and w > 0.0 for v, w in nodes)
    assert [v for v, _ in nodes] == sorted(v for v, _ in nodes)
    assert m.low <= m.typical <= m.high
    if m.up is not None and count > 1:
        assert sum(w for v, w in nodes if v > 1.0) == pytest.approx(m.up)


@pytest.mark.parametrize(("kind", "pair"), [("npn", ("C", "E")), ("nmos", ("D", "S")), ("diode", ("A", "K")),
                                            ("dual-diode", ("A1", "K")), ("resistor", ("1", "2")),
                                            ("bridge", None), ("chip", None), ("connector", None)])
def test_main_pair(kind: str, pair: tuple[str, str] | None) -> None:
    assert main_pair(sample(kind)) == pair
