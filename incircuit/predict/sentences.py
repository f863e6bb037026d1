"""An explanation in plain sentences, for people at a bench."""

from __future__ import annotations

from incircuit.predict.blindness import Sight
from incircuit.predict.explanation import Explanation, JunctionPoint
from incircuit.units import format_value

LEAST_NAMED = 0.005
"""Paths that carry less of the meter's current than this are left out of the sentences."""


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


def drive_sentence(e: Explanation) -> str:
    """What the meter drives, where, and what it finds."""
    if not e.paths:
        if e.shown.overload:
            return (f"The meter puts {format_value(e.volts, 'V')} on {e.red} against {e.black} and finds no path "
                    "for direct current: it shows OL.")
        return f"{e.red} and {e.black} are one node: the meter reads its own leads, {e.shown.text}."
    source, sink = (e.red, e.black) if _out_of_red(e) else (e.black, e.red)
    return (f"The meter drives {format_value(e.amps, 'A')} into {source}, takes it back at {sink} and finds "
            f"{format_value(e.volts, 'V')} between them: it shows {e.shown.text}.")


def _out_of_red(e: Explanation) -> bool:
    return not e.path_nodes or e.path_nodes[0][0] != e.black


def path_sentences(e: Explanation) -> tuple[str, ...]:
    """One line a path: share, parts, nodes."""
    lines = []
    for path, nodes in zip(e.paths, e.path_nodes, strict=True):
        if path.share < LEAST_NAMED and lines:
            continue
        by = ", ".join(path.parts) if path.parts else "the wiring"
        lines.append(f"{percent(path.share)} by {by}: {' > '.join(dict.fromkeys(nodes))}")
    return tuple(lines)


def junction_sentence(j: JunctionPoint, e: Explanation) -> str:
    """Whether a junction conducts, with the voltage across it."""
    what = f"{j.element} from {j.anode} to {j.cathode}"
    if j.conducts and j.volts >= 0.0:
        share = percent(abs(j.amps / e.amps)) if e.amps else "some"
        return f"{what} conducts: {format_value(j.volts, 'V')} forward, {share} of the meter's current."
    if j.conducts:
        return f"{what} breaks down: {format_value(-j.volts, 'V')} in reverse."
    if abs(j.volts) < 1e-6:
        return f"{what} has no voltage across it."
    if j.volts > 0.0:
        return f"{what} does not conduct: {format_value(j.volts, 'V')} forward is too little."
    return f"{what} blocks: {format_value(-j.volts, 'V')} in reverse."


def sight_words(s: Sight) -> str:
    """Told apart or not, in two words."""
    return "told apart" if s.told else "looks healthy"
