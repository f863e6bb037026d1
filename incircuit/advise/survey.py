"""For every part and fault: can it be judged in place, by which reading, and if not, what must be lifted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.advise.conditions import Condition, conditions_of
from incircuit.advise.costs import Costs
from incircuit.advise.crew import Progress
from incircuit.advise.laid_bare import lifts_of
from incircuit.advise.lifts import Lift
from incircuit.advise.outcomes import Probe, asks_of, margin_of, probe_at
from incircuit.advise.pairs import pairs_of
from incircuit.advise.patches import Chart, Done, Pads, Patch, chart_of, patches_of
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter

CLEAR = 0.3
"""Margin from which a reading across the part itself is taken before a clearer one elsewhere."""

Name = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Sight:
    """One fault: the reading that shows it best (None: none in place), how the healthy board and that with
    the fault would read there, low and high [V or ohm, infinite OL], the margin, how many readings show it,
    the faults of other parts that no reading tells from it, and the lift that would do where none does.
    """

    part: str
    fault: str
    best: Probe | None
    healthy: tuple[float, float]
    faulty: tuple[float, float]
    margin: float
    readings: int
    confused: tuple[Name, ...]
    lift: Lift | None


@dataclass(frozen=True, slots=True)
class Survey:
    """All faults surveyed; `complete` is False where it was stopped early."""

    sights: tuple[Sight, ...]
    complete: bool = True

    @property
    def visible(self) -> float:
        """Share of the faults that some reading in place shows."""
        return sum(s.best is not None for s in self.sights) / len(self.sights) if self.sights else 1.0


@dataclass(frozen=True, slots=True)
class _Row:
    """A reading that shows a fault: patch, ask and column of the fault there, and the margin."""

    patch: int
    ask: int
    column: int
    margin: float


def chart_for(circuit: Circuit, meter: Meter, conditions: Sequence[Condition], wide: bool = False) -> Chart:
    """The board with all faults looked at, each where its own piece of the board is read."""
    return chart_of(circuit, [c.change for c in conditions], meter, asks_of(meter), wide, sure=False)


def survey(circuit: Circuit, meter: Meter, costs: Costs, parts: Sequence[str] = (),
           progress: Progress | None = None, workers: int = 0) -> Survey:
    """Survey the faults of some parts (default: all). Stopped by KeyboardInterrupt it answers with what is
    known so far; what was not come to is left out."""
    conditions = conditions_of(circuit)
    chart = chart_for(circuit, meter, conditions)
    pairs = pairs_of(circuit, chart.changes)
    wanted = [k for k, c in enumerate(conditions) if not parts or c.part in parts]
    if parts:
        pairs = _near(chart, pairs, wanted)
    done = patches_of(chart, pairs, _part_of(progress, 0.0, 0.7), workers)
    rows = _rows(done.patches)
    seen = [k for k in wanted if rows.get(k)]
    sights = {k: _sight(chart, conditions, done.patches, rows, k) for k in seen}
    complete = done.complete
    if complete:
        dark = [conditions[k] for k in wanted if k not in sights]
        lifts, complete = lifts_of(circuit, chart.land, meter, costs, dark, _part_of(progress, 0.7, 1.0),
                                   workers)
        sights |= {k: _dark(conditions[k], lifts[conditions[k].name]) for k in wanted
                   if k not in sights and conditions[k].name in lifts}
    else:
        sights |= {k: _dark(conditions[k], None) for k in _looked_at(chart, done, pairs, wanted)
                   if k not in sights}
    return Survey(tuple(sights[k] for k in wanted if k in sights), complete)


def _part_of(progress: Progress | None, first: float, last: float) -> Progress | None:
    """Progress of one stage of several, in thousandths of the whole."""
    if progress is None:
        return None
    return lambda done, total: progress(int(1000 * (first + (last - first) * done / max(total, 1))), 1000)


def _near(chart: Chart, pairs: Sequence[Pads], wanted: Sequence[int]) -> tuple[Pads, ...]:
    """Pairs of pads of which one at least is at a wanted fault's own nodes."""
    some = set(wanted)
    nodes = {n for n, at in chart.at.items() if some & set(at)}
    rails = [at for at, on in chart.on_rails.items() if some & set(on)]
    return tuple(p for p in pairs if nodes & set(p) or any(set(p) <= at for at in rails))


def _looked_at(chart: Chart, done: Done, pairs: Sequence[Pads], wanted: Sequence[int]) -> list[int]:
    """Faults all of whose readings have been looked at though others have not."""
    left = set(pairs) - {p.pair for p in done.patches}
    open_nodes = {n for p in left for n in p}
    touched = {k for n in open_nodes for k in chart.at.get(n, ())}
    touched |= {k for some in chart.on_rails.values() for k in some}
    return [k for k in wanted if k not in touched]


def _rows(patches: Sequence[Patch]) -> dict[int, list[_Row]]:
    """For each fault the readings that show it."""
    found: dict[int, list[_Row]] = {}
    for p, patch in enumerate(patches):
        _, low, high = patch.limits
        told = (low > high[:, :1]) | (high < low[:, :1])
        for a, c in zip(*np.nonzero(told), strict=True):
            span = (low[a, 0], high[a, 0], low[a, c], high[a, c])
            row = _Row(p, int(a), int(c), margin_of(*map(float, span)))
            found.setdefault(patch.changes[c - 1], []).append(row)
    return found


def _sight(chart: Chart, conditions: Sequence[Condition], patches: Sequence[Patch],
           rows: dict[int, list[_Row]], k: int) -> Sight:
    own = {net for _, net in chart.circuit.board.part(conditions[k].part).pins}
    ranked = sorted(rows[k], key=lambda r: _rank(patches[r.patch], r, own))
    best = ranked[0]
    patch = patches[best.patch]
    _, low, high = patch.limits
    confused = sorted(_confused(patches, rows, k, ranked))
    names = tuple(conditions[j].name for j in confused if conditions[j].part != conditions[k].part)
    return Sight(*conditions[k].name, probe_at(patch.pair, chart.asks[best.ask]),
                 (float(low[best.ask, 0]), float(high[best.ask, 0])),
                 (float(low[best.ask, best.column]), float(high[best.ask, best.column])),
                 best.margin, len(ranked), names, None)


def _rank(patch: Patch, row: _Row, own: set[str]) -> tuple[bool, float, float, str, str, int]:
    """Best first: across the part itself where that shows it well enough, else where it shows best; where
    one is OL, the lower the other the better."""
    high = patch.limits[2]
    across = set(patch.pair) <= own and row.margin >= CLEAR
    reading = min(float(high[row.ask, 0]), float(high[row.ask, row.column]))
    return not across, -row.margin, reading, *patch.pair, row.ask


def _confused(patches: Sequence[Patch], rows: dict[int, list[_Row]], k: int,
              mine: Sequence[_Row]) -> set[int]:
    """Other faults that no reading tells from fault `k`: none that shows `k`, and none that shows them."""
    left: set[int] | None = None
    for row in mine:
        like = _alike(patches[row.patch], row.ask, row.column) - {k}
        left = like if left is None else left & like
        if not left:
            return set()
    return {j for j in left or () if all(_meets(patches[r.patch], r, k) for r in rows.get(j, ()))}


def _alike(patch: Patch, ask: int, column: int) -> set[int]:
    """Faults whose limits meet those of a column."""
    _, low, high = patch.limits
    apart = (low[ask] > high[ask, column]) | (high[ask] < low[ask, column])
    return {patch.changes[c - 1] for c in np.flatnonzero(~apart).tolist() if c}


def _meets(patch: Patch, row: _Row, k: int) -> bool:
    """Whether fault `k` may read there as the row's fault does."""
    _, low, high = patch.limits
    column = patch.changes.index(k) + 1 if k in patch.changes else 0
    return not (low[row.ask, row.column] > high[row.ask, column]
                or high[row.ask, row.column] < low[row.ask, column])


def _dark(condition: Condition, lift: Lift | None) -> Sight:
    return Sight(*condition.name, None, (0.0, 0.0), (0.0, 0.0), 0.0, 0, (), lift)


