"""What a board holds and how to take it away, in short phrases, for the terminal and the page alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from incircuit.report.words import listed
from incircuit.units import duration, format_value

if TYPE_CHECKING:
    from incircuit.power.discharge import Bank, Stored
    from incircuit.power.powerup import Step
    from incircuit.power.resistor import Discharger

_WHY = {"supply": "by the supply lines of the board file", "mains": "by its mains line, at the peak",
        "rating": "its rating, the worst it may hold"}

AT_ONCE = 0.05
"""Shorter than this [s] nobody waits."""
NOTHING = ("No capacitor whose voltage is known holds more than the limits below, by the mains and supply "
           "lines of the board file and its ratings. Measure all the same.")


def bank_words(b: Bank) -> str:
    """Which capacitors, between what, and what they hold: ``C1, LP to MID: 330 µF, 282 V (…), 13.1 J.``"""
    return f"{listed(b.refs)}, {b.plus} to {b.minus}: {held_words(b)}."


def held_words(b: Bank) -> str:
    """Capacitance, voltage and where it is from, energy."""
    return (f"{format_value(b.farads, 'F')}, {b.volts:.3g} V ({_WHY[b.why]}), "
            f"{format_value(b.joules, 'J')}")


def hurt_words(b: Bank) -> str:
    """That it can kill, where it lies above the shock threshold; else empty."""
    from incircuit.power.limits import SHOCK_SOURCE

    return f"CAN KILL: above the shock threshold ({SHOCK_SOURCE})." if b.can_hurt else ""


def slight_words(b: Bank) -> str:
    """One line for a bank that can hold nothing dangerous."""
    return f"{bank_words(b)[:-1]}; with {format_value(b.discharger.ohms, 'Ω', 2)}."


def slight_head() -> str:
    """What is said ahead of banks that can hold nothing dangerous."""
    from incircuit.power.discharge import SLIGHT_JOULES, SLIGHT_VOLTS

    return (f"At most {SLIGHT_VOLTS:g} V and {SLIGHT_JOULES:g} J, no danger by themselves; a charge left "
            "still falsifies readings and can harm a chip. Measure, and discharge all the same:")


def bleed_words(b: Bank) -> str:
    """Through what it empties by itself, or that it does not."""
    if not b.bleeders:
        return "No bleed path in the netlist: it keeps its charge until you take it."
    return (f"Bleeds through {listed(b.bleeders, 8)}: {format_value(b.ohms, 'Ω')}, time constant "
            f"{duration(b.time_constant)}.")


def bleed_head() -> tuple[str, ...]:
    """Head of the table of `bleed_rows`."""
    from incircuit.power.limits import LIMITS

    return ("by itself", *(f"to {limit.volts:g} V" for limit in LIMITS))


def bleed_rows(b: Bank) -> list[tuple[str, ...]]:
    """When it falls below each limit by itself: as it should be, at the slow end, with a resistor open. None
    without a bleed path."""
    if not b.bleeders:
        return []
    rows = [("as it should be", *(_within(t) for t in b.seconds)),
            ("every tolerance at its slow end", *(_within(t) for t in b.slowest))]
    alike: dict[tuple[str, ...], list[str]] = {}
    for f in b.failing:
        alike.setdefault(tuple(_within(t) for t in f.seconds), []).append(f.part)
    return rows + [(f"{listed(refs, 5)} open", *times) for times, refs in alike.items()]


def resistor_words(d: Discharger) -> str:
    """The resistor to discharge with, what it meets, and how long it takes."""
    volts = f", for at least {d.volts:.0f} V" if d.volts > 200.0 else ""
    within = "at once" if d.seconds < AT_ONCE else f"in {duration(d.seconds)}"
    to = f"; below 34 V {within}" if d.seconds else ""
    return (f"Discharge with {format_value(d.ohms, 'Ω', 2)}, {d.watts:g} W wirewound{volts}: at first "
            f"{format_value(d.peak_amps, 'A', 2)} and {format_value(d.peak_watts, 'W', 2)}, "
            f"{format_value(d.joules, 'J', 2)} in all{to}. Then verify on volts.")


def stack_words(a: Bank, b: Bank) -> str:
    """That two banks lie in series, and what stands across both."""
    return (f"{listed(a.refs)} and {listed(b.refs)} lie in series: {a.volts + b.volts:.0f} V between "
            f"{a.plus} and {b.minus}. Discharge each.")


def unknown_words(found: Stored) -> str:
    """Capacitors whose voltage nothing tells; empty where there are none."""
    if not found.unknown:
        return ""
    return (f"No voltage known for {listed(found.unknown)}: take it as charged, and give a rating, or a line "
            "such as supply +15V RTN 15V.")


def limit_words(s: Step) -> str:
    """The current limit of a step of a first power-up, and what a healthy board draws; empty for none."""
    if s.limit is None or s.draws is None:
        return ""
    return (f"Current limit {format_value(s.limit, 'A', 2)}; a healthy board at rest draws about "
            f"{format_value(s.draws, 'A', 2)}.")


def unpredicted_words(s: Step) -> str:
    """Nets of a step whose voltage hangs on chips and switches at work; empty for none."""
    nets = ", ".join(s.chips_set)
    return f"Not predicted, as chips and switches at work set it: {nets}." if nets else ""


def _within(seconds: float | None) -> str:
    """How long it takes; nobody waits for what is over at once.

    >>> _within(0.0), _within(1.43), _within(None)
    ('at once', '1.4 s', 'not in a day')
    """
    return "at once" if seconds is not None and seconds < AT_ONCE else duration(seconds)
