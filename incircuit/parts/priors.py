"""How likely each defect is, relative to others: base rate of the kind times share of the mode."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from incircuit.board.kinds import kind_named
from incircuit.board.model import Part
from incircuit.parts.data import Row, row, tables

if TYPE_CHECKING:
    from incircuit.parts.defects import Defect

ASSEMBLY = frozenset({"reversed", "missing", "wrong-value"})
"""Defects made by hands."""

_Listed = tuple[str, tuple[str, ...]]


def prior_row(part: Part) -> Row:
    """Rates and shares for the part's kind and class."""
    spec = kind_named(part.kind)
    kind = spec.name if spec else part.kind
    word = spec.chosen(part.words) if spec else ""
    return row("priors", kind, word if word in tables("priors").get(kind, {}) else "all")


def prior(part: Part, defect: Defect, worked_on: bool = False) -> float:
    """Relative weight of a defect among all defects of all parts of a board.

    217F base rate times the defect's share (failures per 10⁶ h in name; only ratios mean anything).
    `worked_on`: the board has been repaired before, so mistakes of hands weigh more.
    """
    weight = prior_row(part).number("rate") * defect.share
    if worked_on and defect.word in ASSEMBLY:
        weight *= row("priors", "assembly").number("worked_on")
    return weight


def raw_shares(part: Part, listed: Sequence[_Listed],
               main: tuple[str, str] | None) -> tuple[list[float], str]:
    """Share of each listed (word, pins) among the part's failures, and the source.

    Modes of the handbook: open to `open`; short to `short` and in part to `leaky`; drift to what
    drifts, or where nothing does to `leaky` (a soft junction); other to the words under `other_as`, in
    equal parts. The mass of a mode that has no listed defect is left out: such a failure cannot show.
    """
    data = prior_row(part)
    leaky = row("priors", "weights").number("leaky")
    hands = row("priors", "assembly").number("share")
    words = {word for word, _ in listed}
    share = dict.fromkeys(words, 0.0)
    short, others = data.get("short", 0.0), str(data.table.get("other_as", "")).split()
    for word, amount in (
        ("open", data.get("open", 0.0)),
        ("short", short * (1.0 - leaky)),
        ("leaky", short * leaky),
        ("drifted" if "drifted" in words else "leaky", data.get("drift", 0.0)),
        *((word, data.get("other", 0.0) / len(others)) for word in others),
    ):
        if word in share:
            share[word] += amount * (1.0 - hands)
    made = words & ASSEMBLY
    share.update(dict.fromkeys(made, hands / max(len(made), 1)))
    return _divided(listed, share, main), data.text("source")


def _divided(listed: Sequence[_Listed], share: dict[str, float],
             main: tuple[str, str] | None) -> list[float]:
    """Each word's share divided over its pins, the main pair weighing more."""
    heavy = row("priors", "weights").number("main_pair")
    weights = [heavy if main and set(pins) == set(main) else 1.0 for _, pins in listed]
    sums: dict[str, float] = {}
    for (word, _), weight in zip(listed, weights, strict=True):
        sums[word] = sums.get(word, 0.0) + weight
    return [share[word] * weight / sums[word] for (word, _), weight in zip(listed, weights, strict=True)]
