"""Networks that must read alike: other arrangements, other scales, other orders of the same thing.

Current is (1 V − v)/1 Ω: at 100 M its last digit is 1e-8 of it, hence the tolerances.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from incircuit.parts.elements import Element, Resistance
from tests.circuit.helpers import Triple, diode, ohms, point, resistances
from tests.circuit.test_junctions import bipolar
from tests.circuit.test_properties import VALUES, connected

FACTORS = st.floats(-1.0, 1.0).map(lambda x: 10.0**x)  # what gets below 0.2 milliohms is a link


@given(connected(), FACTORS)
def test_scaling(triples: list[Triple], factor: float) -> None:
    """All resistances times a factor: every reading times that factor."""
    scaled = [(a, b, factor * r) for a, b, r in triples]
    assert ohms(scaled, "0", "1") == pytest.approx(factor * ohms(triples, "0", "1"), rel=1e-6)


@given(st.lists(VALUES, min_size=1, max_size=12))
def test_series(values: list[float]) -> None:
    triples = [(str(k), str(k + 1), r) for k, r in enumerate(values)]
    assert ohms(triples, "0", str(len(values))) == pytest.approx(sum(values), rel=1e-7)


@given(st.lists(VALUES, min_size=1, max_size=12))
def test_parallel(values: list[float]) -> None:
    exact = 1.0 / sum(1.0 / r for r in values)
    assert ohms([("a", "b", r) for r in values], "a", "b") == pytest.approx(exact, rel=1e-7)


RAYS = st.lists(st.tuples(st.integers(0, 4), VALUES), min_size=2, max_size=5, unique_by=lambda t: t[0])


@given(connected(5), RAYS)
def test_star_and_mesh(triples: list[Triple], rays: list[tuple[int, float]]) -> None:
    """A star without a pad at its centre is the mesh with g_i·g_j/Σg between its points (A. Rosen, 1924)."""
    total = sum(1.0 / r for _, r in rays)
    star = [("centre", str(node), r) for node, r in rays]
    mesh = [(str(a), str(b), ra * rb * total) for (a, ra), (b, rb) in itertools.combinations(rays, 2)]
    assert ohms([*triples, *star], "0", "1") == pytest.approx(ohms([*triples, *mesh], "0", "1"), rel=1e-9)


JUNCTION_PAIRS = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=6)


def with_junctions(triples: list[Triple], pairs: list[tuple[int, int]]) -> list[Element]:
    listed = resistances(triples)
    return listed + [diode(f"D{k}", str(a), str(b)) for k, (a, b) in enumerate(pairs) if a != b]


@given(connected(5), JUNCTION_PAIRS, st.booleans())
def test_turning_junctions_and_probes_turns_the_reading(triples: list[Triple], pairs: list[tuple[int, int]],
                                                        turned: bool) -> None:
    """Every junction the other way round and the meter too: the same voltage."""
    sign = -1 if turned else 1
    one = point(with_junctions(triples, pairs), "0", "1", sign=sign)
    other = point(with_junctions(triples, [(b, a) for a, b in pairs]), "0", "1", sign=-sign)
    assert float(one.pad_voltage[0]) == pytest.approx(-float(other.pad_voltage[0]), abs=1e-9)


@given(connected(5), JUNCTION_PAIRS, VALUES)
def test_more_current_never_lowers_the_voltage(triples: list[Triple], pairs: list[tuple[int, int]],
                                               extra: float) -> None:
    """Resistors and junctions are monotone: more current more volts, one more resistor fewer volts."""
    elements = with_junctions(triples, pairs)
    weak, strong = (float(point(elements, "0", "1", current=i).pad_voltage[0]) for i in (1e-4, 1e-3))
    shunted = float(point([*elements, Resistance("RX", "RX", "0", "1", extra)], "0", "1").pad_voltage[0])
    assert weak <= strong + 1e-9
    assert shunted <= strong + 1e-9


@given(connected(5), JUNCTION_PAIRS, st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_renaming_and_reordering_with_devices(triples: list[Triple], pairs: list[tuple[int, int]],
                                              random: object) -> None:
    """Nets renamed, lines in another order: the same reading, a transistor included."""
    elements = [*with_junctions(triples, pairs), *bipolar("Q1", "2", "3", "1", is_=1e-14, bf=100.0, br=2.0)]
    plain = float(point(elements, "0", "1").pad_voltage[0])
    shuffled = list(elements)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert float(point(shuffled, "0", "1").pad_voltage[0]) == plain, "elements are sorted by name"
    renamed = [(f"n{9 - int(a)}", f"n{9 - int(b)}", r) for a, b, r in triples]
    turned = resistances(renamed)
    turned += [diode(f"D{k}", f"n{9 - a}", f"n{9 - b}") for k, (a, b) in enumerate(pairs) if a != b]
    turned += bipolar("Q1", "n7", "n6", "n8", is_=1e-14, bf=100.0, br=2.0)
    assert float(point(turned, "n9", "n8").pad_voltage[0]) == pytest.approx(plain, abs=1e-8)


@given(st.floats(1e-15, 1e-7), st.floats(1.0, 2.2), st.floats(0.0, 20.0), VALUES)
@settings(max_examples=60)
def test_pvlib_single_diode_equation(is_: float, n: float, rs: float, shunt: float) -> None:
    """pvlib `v_from_i` on any set: a shunt within, a series resistance outside (reference library)."""
    import pvlib

    from incircuit.circuit.laws import thermal_voltage

    assume(shunt > 50.0)
    # a photocurrent of nothing, and the current goes in: pvlib counts it as coming out
    published = float(pvlib.pvsystem.v_from_i(-1e-3, 0.0, is_, rs, shunt, n * thermal_voltage(25.0)))
    inner = diode("D1", "m", "k", is_=is_, n=n, rs=0.0)
    elements = [inner, *resistances([("m", "k", shunt), ("a", "m", max(rs, 1e-3))])]
    found = float(point(elements, "a", "k", volts=30.0, gmin=0.0).pad_voltage[0])
    assert found == pytest.approx(published + 1e-3 * (max(rs, 1e-3) - rs), abs=2e-6)
