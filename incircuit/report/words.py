"""Results in short phrases, for the terminal and for paper alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from incircuit.advise.outcomes import Probe
    from incircuit.meter.display import Shown
    from incircuit.meter.profile import Meter


def span(low: Shown, high: Shown) -> str:
    """A band in the meter's own digits: ``0.009 to 0.011 V``, one number where both ends read alike."""
    if low.text == high.text:
        return low.text
    number, _, unit = low.text.rpartition(" ")
    if number and unit == high.text.rpartition(" ")[2]:
        return f"{number} to {high.text}"
    return f"{low.text} to {high.text}"


def band_words(meter: Meter, mode: str, low: float, high: float) -> str:
    """Displays from low to high [V or ohm, infinite OL] in the meter's own digits."""
    from incircuit.predict.prediction import Band, limits

    if mode != "diode":
        low, high = max(low, 0.0), max(high, 0.0)
    first, last = (None if x == float("inf") else x for x in (low, high))
    return span(*limits(meter, mode, Band(None, first, last, False)))


def listed(names: Sequence[str], most: int = 20, between: str = ", ") -> str:
    """Names in a row, the tail counted where there are too many."""
    if not names:
        return "none"
    shown = between.join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def faults_words(faults: Iterable[tuple[str, str]], most: int = 4) -> str:
    """Faults in a row, those of one part together."""
    by_part: dict[str, list[str]] = {}
    for part, fault in faults:
        by_part.setdefault(part, []).append(fault)
    said = [f"{part} {'/'.join(words)}" if part else words[0] for part, words in by_part.items()]
    return listed(said, most)


def pad_words(node: str) -> str:
    """A node as it is typed: a lifted pin is ``D3.K``."""
    return node.replace(" ", ".", 1)


def probe_words(probe: Probe) -> str:
    """Red, black, mode."""
    return f"{pad_words(probe.red)} {pad_words(probe.black)} {probe.mode}"
