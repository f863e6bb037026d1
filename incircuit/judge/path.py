"""When nothing listed fits: the simplest unlisted path that would, and how it would be marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations

from incircuit.judge.causes import Cause
from incircuit.judge.memory import Notes
from incircuit.judge.observed import Observed
from incircuit.judge.scenes import Scene
from incircuit.judge.search import MOST_KEPT, weigh_whole
from incircuit.judge.stage import stage_of
from incircuit.marking import marks_of
from incircuit.parts import Defect, Magnitude

PATH = Magnitude("Ω", 0.1, 30e6, 1e3)
"""Ohms an unlisted path may have."""


@dataclass(frozen=True, slots=True)
class Path:
    """A resistance of `ohms` between two nets (`low` to `high` fit), and its marks as printed on a part."""

    between: tuple[str, str]
    ohms: float
    low: float
    high: float
    marks: tuple[str, ...]


def unlisted(scenes: Sequence[Scene], seen: Sequence[Observed], misses: Sequence[float],
             notes: Notes) -> Path | None:
    """The best single resistance between any two nets that were probed; None where none explains all.

    `misses` say how far off each reading is on the board as it is.
    """
    nets = sorted({n for s in scenes for n in (s.red, s.black) if " " not in n})
    causes = [notes.page("paths").once(pair, partial(_between, pair)) for pair in combinations(nets, 2)]
    weighed = weigh_whole(stage_of(scenes, notes), seen, causes, misses, MOST_KEPT)
    fitting = [w for w in weighed if w.fit.fits and w.size and w.cause and w.evidence]
    if not fitting:
        return None
    best = max(fitting, key=lambda w: w.fit.log_likelihood)
    assert best.cause is not None
    ohms = float(best.size or 0.0)
    low, high = (best.evidence.band(seen, best.fit) if best.evidence else None) or (ohms, ohms)
    return Path(best.cause.between, ohms, low, high, marks(ohms))


def _between(pair: tuple[str, str]) -> Cause:
    return Cause("", Defect("", "path", pair, PATH, 1.0, "assumption"), 1.0, "assumption", pair)


def marks(ohms: float) -> tuple[str, ...]:
    """How the nearest standard resistor would be marked: codes and colours."""
    printed = marks_of(ohms).printed[0]
    bands = "-".join(printed.four_bands[:3]) if printed.four_bands else None
    found = (printed.letters, printed.three_digits, printed.four_digits, printed.eia96, bands)
    return tuple(dict.fromkeys(str(m) for m in found if m))
