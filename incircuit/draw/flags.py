"""Probes and numbers of readings at the pads, told apart by shape and letter, not by colour alone."""

from __future__ import annotations

from collections.abc import Iterable

from incircuit.draw.arrangement import Arrangement
from incircuit.draw.labels import Spot, Tag
from incircuit.draw.strokes import Text
from incircuit.draw.svg import INK, PAPER, RED, group, path_data, tag, text

HEAD = 8.5
"""Half the size of a probe's head [px]."""
STEP = 15.0
"""Size of a number's ring [px]."""


def probe_tag(net: int, lead: str) -> Tag:
    """A probe, ``red`` or ``black``."""
    return Tag(net, lead, 2 * HEAD, 30.0, "probe")


def steps_tag(net: int, numbers: Iterable[tuple[int, str]]) -> Tag:
    """Numbers of readings with the lead that goes here."""
    words = [f"{n}{lead[0]}" for n, lead in numbers]
    return Tag(net, " ".join(words), STEP * len(words) + 2, STEP, "steps")


def flags(plan: Arrangement) -> Iterable[str]:
    """Every probe and every row of numbers."""
    for s in plan.spots:
        if s.tag.kind == "probe":
            yield _probe(s)
        elif s.tag.kind == "steps":
            yield _steps(s)


def _probe(s: Spot) -> str:
    """Red: a round head with an R. Black: a square one with a B. Both with a tip at the rail."""
    left, top, right, bottom = s.box
    x, y = (left + right) / 2, (top + bottom) / 2
    dx, dy = {"above": (0.0, 1.0), "below": (0.0, -1.0), "left": (1.0, 0.0), "right": (-1.0, 0.0)}[s.end]
    reach = max(right - left, bottom - top) / 2
    tip = (x + dx * (reach + 2.5), y + dy * (reach + 2.5))
    cx, cy = x - dx * (reach - HEAD), y - dy * (reach - HEAD)
    red = s.tag.text == "red"
    colour = RED if red else INK
    nx, ny = cx + 7 * dx, cy + 7 * dy
    neck = [(nx - 3.5 * dy, ny - 3.5 * dx), (nx + 3.5 * dy, ny + 3.5 * dx), tip]
    spike = tag("path", {"d": path_data(neck, True), "fill": colour, "stroke": "none"})
    if red:
        head = tag("circle", {"cx": cx, "cy": cy, "r": HEAD, "fill": colour, "stroke": PAPER})
    else:
        head = tag("rect", {"x": cx - 8, "y": cy - 8, "width": 16.0, "height": 16.0, "fill": colour,
                            "stroke": PAPER})
    letter = text(Text(cx, cy + 4.2, "R" if red else "B", "middle", 12, "probe"), PAPER, "bold")
    return group({"class": f"probe probe-{s.tag.text}", "data-probe": s.tag.text}, f"{s.tag.text} probe",
                 [spike, head, letter])


def _steps(s: Spot) -> str:
    """In a filled ring where the red probe goes, in an open square where the black one goes."""
    inside = []
    for k, word in enumerate(s.tag.text.split()):
        x, y = s.box[0] + 8.0 + STEP * k, s.box[1] + STEP / 2
        red = word.endswith("r")
        inside.append(
            tag("circle", {"cx": x, "cy": y, "r": 7.0, "fill": INK, "stroke": INK}) if red else
            tag("rect", {"x": x - 6.5, "y": y - 6.5, "width": 13.0, "height": 13.0, "fill": PAPER,
                         "stroke": INK, "stroke-width": "1.2"}))
        inside.append(text(Text(x, y + 3.4, word[:-1], "middle", 9.5, "step"), PAPER if red else INK, "bold"))
    return group({"class": "steps"}, "", inside)
