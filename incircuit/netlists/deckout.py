"""One reading of a board as a SPICE deck that says by itself what the meter shows.

The elements are those the own engine solves, written by `incircuit.circuit.spice`; only what can influence
the reading is in it. The meter is a current with a limit behind its leads, and a node called `reading` holds
what the display shows before it is rounded: volts on the diode test, ohms else.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.spice import NODE_SHUNT, deck
from incircuit.circuit.values import GMIN
from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter, Range
from incircuit.netlists.names import own_name
from incircuit.parts.elements import Channel, Coupling, Element, Junction, Resistance
from incircuit.predict.measure import Ask, direction, ranges_of
from incircuit.predict.prediction import display, shows_of
from incircuit.predict.question import Question
from incircuit.units import format_value

READING = "reading"
"""Node that holds the display's value [V or ohm as volts]."""
LARGE = 300
"""Elements from which small resistances are written as they are; see `incircuit.circuit.spice.deck`."""
_OPTIONS = "reltol=1e-6 abstol=1e-15 vntol=1e-9 itl1=1000 itl2=1000 pivrel=0.9"


@dataclass(frozen=True, slots=True)
class Deck:
    """A deck as text, and what the own engine expects: `value` [V or ohm], infinite on overload."""

    text: str
    shown: Shown
    value: float


def export_deck(question: Question, meter: Meter, mode: str) -> Deck:
    """The deck of one reading in the range the meter stands on. Raises MeterError, SolveError."""
    ask = Ask(mode)
    celsius = question.circuit.state.celsius
    shows = shows_of(question.block, question.red_node, question.black_node, meter, [ask], celsius, 1)[ask]
    at, shown = int(shows.range[0]), display(meter, mode, shows, 0)
    scale = ranges_of(meter, mode)[at]
    network = compile_network(question.block, question.red_node, question.black_node)
    names = _names(network, question)
    elements: list[Element] = [*network.resistances, *network.junctions, *network.couplings,
                               *network.channels]
    red = names[question.red_node]
    lines = [*_head(question, meter, mode, scale, shown), *_legend(network, names, elements),
             *deck(elements, names, celsius=celsius, gmin=GMIN,
                   branch_below=1.0 if len(elements) < LARGE else 1e-2),
             *(f"rs{k} {name} 0 {NODE_SHUNT!r}" for k, name in enumerate(dict.fromkeys(names.values()))
               if name != "0"),
             *_meter(meter, mode, scale, direction(meter, ask), red),
             f".options {_OPTIONS} gmin={GMIN!r}", f".options temp={celsius!r} tnom=25", ".op", ".end"]
    return Deck("\n".join(lines) + "\n", shown, float(shows.exact[0]))


def _names(network: Network, question: Question) -> dict[str, str]:
    """Node → name in the deck, black is 0; ngspice knows no upper case and few signs."""
    nets = set(question.circuit.board.net_names())
    chosen: dict[int, str] = {network.black: "0"}
    taken: set[str] = set()
    for number, names in enumerate(network.node_names()):
        if number == network.black or not names:
            continue
        text = next((name for name in names if name in nets), names[0])
        plain = re.sub(r"[^a-z0-9]", "_", text.lower().replace("+", "p").replace("-", "m"))
        chosen[number] = own_name(f"n_{plain}", taken)
        taken.add(chosen[number])
    found = {node: chosen[number] for node, number in network.index.items()}
    return {question.black_node: "0", question.red_node: chosen.get(network.red, "n_red")} | found


def _head(question: Question, meter: Meter, mode: str, scale: Range, shown: Shown) -> list[str]:
    title = question.circuit.board.title or "a board"
    unit = "volts" if mode == "diode" else "ohms"
    expected = f"overload: more than {format_value(scale.full_scale, 'V' if mode == 'diode' else 'Ω')}"
    return [_comment(f"{title}: red on {question.red}, black on {question.black}, {mode}"),
            _comment(f"Meter {meter.name}. The node {READING} holds what it shows, "
                     f"{unit}: {expected if shown.overload else shown.text} "
                     "by the own engine.")]


def _comment(text: str) -> str:
    return "* " + "".join(c if c.isprintable() else " " for c in text)


def _legend(network: Network, names: dict[str, str], elements: list[Element]) -> list[str]:
    """Which node is which net, and which card which part."""
    found = []
    for number, same in enumerate(network.node_names()):
        shown = [name for name in same if name in names]
        if shown and number != network.black:
            more = " …" if len(shown) > 6 else ""
            found.append(_comment(f"{names[shown[0]]} = {', '.join(shown[:6])}{more}"))
    letters: dict[type, str] = {Resistance: "r", Junction: "d", Coupling: "f", Channel: "m"}
    return found + [_comment(f"{letters[type(e)]}{k} = {e.name}") for k, e in enumerate(elements)]


def _meter(meter: Meter, mode: str, scale: Range, sign: int, red: str) -> list[str]:
    """Terminals `plus` and `minus`, the source between them, the leads outside, and the reading."""
    source = scale.source
    first, second = ("plus", "minus") if sign > 0 else ("minus", "plus")
    half = 0.5 * meter.lead_resistance
    volts = "v(plus)-v(minus)"
    what = f"({volts})/i(vsense)" if mode != "diode" else volts
    behind = f"({source.open_circuit!r}-({volts}))/{source.resistance!r}"
    amps = behind if math.isinf(source.current) else f"min({source.current!r},{behind})"
    return [_comment("The meter: its source, what senses the current, its two leads."),
            f"bmeter minus inside i={amps}", "vsense inside plus 0",
            *_lead("lead1", first, red, half), *_lead("lead2", second, "0", half),
            f"b{READING} {READING} 0 v={what}"]


def _lead(name: str, a: str, b: str, ohms: float) -> list[str]:
    return [f"r{name} {a} {b} {ohms!r}"] if ohms > 0.0 else [f"v{name} {a} {b} 0"]
