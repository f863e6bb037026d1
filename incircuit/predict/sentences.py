"""An explanation in plain sentences, for people at a bench."""

from __future__ import annotations

from itertools import groupby

from incircuit.predict.blindness import Sight
from incircuit.predict.explanation import Explanation, JunctionPoint
from incircuit.units import format_value

LEAST_NAMED = 0.005
"""Paths that carry less of the meter's current than this are left out of the sentences."""
MOST_PINNED = 6
"""As many faults of one part are named in a row."""
NO_VOLTAGE = 0.5e-3
"""Less across a junction than this [V] is no voltage to a meter."""


def percent(share: float) -> str:
    """A share for people; never 100 % for less than all.

    >>> percent(1.0), percent(0.998), percent(0.42), percent(0.004)
    ('100 %', 'over 99 %', '42 %', 'under 1 %')
    """
    if share >= 0.9995:
        return "100 %"
    if share >= 0.995:
        return "over 99 %"
    if share < 0.01:
        return "under 1 %"
    return f"{share * 100:.0f} %"


def in_volts(volts: float) -> str:
    """A voltage as a diode test would show it, to the millivolt.

    >>> in_volts(0.0104), in_volts(-0.5), in_volts(1e-9)
    ('0.010 V', '-0.500 V', '0.000 V')
    """
    return f"{volts if abs(volts) >= NO_VOLTAGE else 0.0:.3f} V"


def drive_sentence(e: Explanation) -> str:
    """What the meter drives, where, and what it finds."""
    lead = " (this meter's red lead is minus in this mode)" if e.red_is_minus else ""
    if not e.paths and e.shown.overload:
        return (f"The meter puts {in_volts(e.volts)} on {e.source} against {e.sink}{lead} and finds no path "
                "for direct current: it shows OL.")
    if not e.paths:
        return f"{e.red} and {e.black} are one node: the meter reads its own leads, {e.shown.text}."
    amps = format_value(e.amps, "A")
    drives = f"The meter drives {amps} into {e.source} and takes it back at {e.sink}{lead}"
    if e.shown.overload:
        return f"{drives}. That takes {in_volts(e.volts)}, more than it can show: OL."
    if e.mode == "diode":
        return f"{drives}: it shows {e.shown.text}."
    return f"{drives}. That takes {in_volts(e.volts)}: it shows {e.shown.text}."


def path_sentences(e: Explanation) -> tuple[str, ...]:
    """One line a route, its share first: ``99 %: RTN → D5 → SW → L2 → RECT``."""
    routes: dict[str, float] = {}
    for path, nodes in zip(e.paths, e.path_nodes, strict=True):
        route = _route(nodes, path.hops)  # ways that differ inside one part only are one route
        routes[route] = routes.get(route, 0.0) + path.share
    ranked = sorted(routes.items(), key=lambda item: -item[1])
    return tuple(f"{percent(share)}: {route}" for k, (route, share) in enumerate(ranked)
                 if share >= LEAST_NAMED or not k)


def _route(nodes: tuple[str, ...], hops: tuple[str, ...]) -> str:
    """Nets and parts in turn; what is inside one part, and wires, left out."""
    steps = [nodes[0]]
    at = 0
    for part, group in groupby(hops):
        at += len(list(group))
        if part:
            steps.append(part)
        if nodes[at] != steps[-1]:
            steps.append(nodes[at])
    return " → ".join(steps)


def junction_sentence(j: JunctionPoint, e: Explanation) -> str:
    """A junction that conducts, with the voltage across it and its share of the current."""
    share = percent(min(abs(j.amps / e.amps), 1.0)) if e.amps else "some"
    way = f"{in_volts(j.volts)} forward" if j.volts >= 0.0 else f"{in_volts(-j.volts)} in reverse"
    return f"{j.element}, {j.anode} to {j.cathode}: {way}, {share} of the meter's current."


def shut_junction(j: JunctionPoint) -> str:
    """A junction that does not conduct, in a few words; empty where it has no voltage across it."""
    if abs(j.volts) < NO_VOLTAGE:
        return ""
    return f"{j.element} ({in_volts(abs(j.volts))} {'forward' if j.volts > 0 else 'in reverse'})"


def blind_words(e: Explanation) -> tuple[str, ...]:
    """The faults the reading is blind to, of parts of which it sees others: ``R14 open (0.412 V)``.

    The display in brackets is what the fault changes, too little to be told.
    """
    found = []
    for part, group in groupby(e.sights, key=lambda s: s.part):
        own = list(group)
        dark = [s for s in own if not s.told]
        if dark and not _all_dark(own, e):
            dark.sort(key=lambda s: s.shown.text == e.shown.text)  # what moves at all comes first
            tail = f" and {len(dark) - MOST_PINNED} more" if len(dark) > MOST_PINNED else ""
            found.append(f"{part} {', '.join(_fault(s, e) for s in dark[:MOST_PINNED])}{tail}")
    return tuple(found)


def unseen_parts(e: Explanation) -> tuple[str, ...]:
    """Parts that can matter but of which no open and no short moves the display at all."""
    return tuple(part for part, group in groupby(e.sights, key=lambda s: s.part) if _all_dark(list(group), e))


def _all_dark(sights: list[Sight], e: Explanation) -> bool:
    return all(not s.told and s.shown.text == e.shown.text for s in sights)


def _fault(s: Sight, e: Explanation) -> str:
    return s.fault if s.shown.text == e.shown.text else f"{s.fault} ({s.shown.text})"
