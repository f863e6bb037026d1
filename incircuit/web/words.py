"""Displays, bands and faults as the page says them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.predict.prediction import Band, limits

CAUTION = ("Unplug, wait, discharge the capacitors and verify on volts that they are empty before you touch "
           "the board. Local codes and licensed practice come first.")


def span(low: Shown, high: Shown) -> str:
    """A band in the meter's own digits: ``0.009 to 0.011 V``, one number where both ends read alike."""
    if low.text == high.text:
        return low.text
    number, _, unit = low.text.rpartition(" ")
    if number and unit == high.text.rpartition(" ")[2]:
        return f"{number} to {high.text}"
    return f"{low.text} to {high.text}"


def band_words(meter: Meter, mode: str, band: Band) -> str:
    """A band as the meter would show its ends."""
    return span(*limits(meter, mode, band))


def between_words(meter: Meter, mode: str, low: float, high: float) -> str:
    """Displays from low to high [V or ohm, infinite OL] in the meter's own digits."""
    if mode != "diode":
        low, high = max(low, 0.0), max(high, 0.0)
    first, last = (None if x == float("inf") else x for x in (low, high))
    return band_words(meter, mode, Band(None, first, last, False))


def pad_words(node: str) -> str:
    """A node as it is typed: a lifted pin is ``D3.K``."""
    return node.replace(" ", ".", 1)


def faults_words(faults: Iterable[tuple[str, str]], most: int = 4) -> str:
    """Faults in a row, those of one part together, the tail counted."""
    by_part: dict[str, list[str]] = {}
    for part, fault in faults:
        by_part.setdefault(part, []).append(fault)
    return listed([f"{part} {'/'.join(words)}" if part else words[0] for part, words in by_part.items()], most)


def listed(names: Sequence[str], most: int = 12) -> str:
    """Names in a row, the tail counted where there are too many."""
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
