"""`.model` cards, and what of them the board file can say.

Where a deck gives no parameter SPICE's own default counts, as in the deck; what the board file has no word
for is named in a warning. Temperatures: sets are taken as of 25 °C, where the board is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from incircuit.netlists.deck import Card
from incircuit.netlists.notes import Notes, Word
from incircuit.netlists.numbers import spice_number
from incircuit.units import shown

BREAKDOWN_OF_ZENERS = 47.0
"""[V] A diode that breaks down below this is taken for a zener: rectifiers hold 50 V and more (memory)."""

_STILL: Mapping[str, str] = {
    "d": "is n rs bv ibv cjo cj0 vj m mj tt fc eg xti kf af level cjp php jsw js vjsw mjsw tnom tref type pb "
         "vpk iave ipk mfg cta ctp pta ptp tcv lm lp wm wp xom xoi xm xp nz vb ib",
    "bjt": "is bf br cje vje mje tf xtf vtf itf ptf cjc vjc mjc xcjc tr cjs ccs vjs vs mjs ms xtb eg xti kf "
           "af fc level tnom tref type subs mfg vceo icrating cn d gamma",
    "mos": "level vto vt0 kp l w is tox cgso cgdo cgbo cbd cbs cj mj cjsw mjsw pb fc kf af tnom tref type "
           "phi ld xj uo nsub tpg nss n cgdmax cgdmin cgs cjo cj0 a rb vj m tt bv ibv eg xti rds mfg vds ron "
           "qg mtriode",
    "jfet": "vto vt0 beta is cgs cgd pb fc kf af level tnom tref type b m n eg xti vtotc betatce mfg",
}
"""Parameters that are carried over, or count only for charge, noise, temperature or the datasheet."""


@dataclass(frozen=True, slots=True)
class Model:
    """A `.model`: `kind` is its type in lower case (d, npn, nmos, vdmos, njf …), `params` in lower case."""

    name: str
    kind: str
    params: Mapping[str, float]
    flags: frozenset[str]
    at: Word

    def get(self, default: float, *keys: str) -> float:
        """The first of some parameters that is given, or the default."""
        return next((self.params[key] for key in keys if key in self.params), default)

    def left_out(self, family: str) -> tuple[str, ...]:
        """Parameters that would count for direct current and that the board file has no word for."""
        still = frozenset(_STILL[family].split())
        return tuple(key for key, value in self.params.items() if value and key not in still)


def model_of(card: Card, notes: Notes) -> Model | None:
    """The model of a card; None, with an error noted, where it is none."""
    if len(card.words) < 2:
        notes.error(card.head, ".model needs a name and a type", "write .model NAME D(IS=1n N=1.8)")
        return None
    name, kind = (w.text.lower() for w in card.words[:2])
    if kind.startswith("ako:"):
        notes.error(card.words[1], "a model made out of another one (AKO) is not followed",
                    "write out its parameters")
        return None
    params: dict[str, float] = {}
    flags = {w.text.lower() for w in card.words[2:]}
    for key, word in card.pairs:
        found = spice_number(word.text.strip("{}'"))
        if found is None and key in ("type", "mfg"):
            flags.add(word.text.lower())
        elif found is None:
            notes.error(word, f"{key} of model {name} is no plain number: {shown(word.text)}",
                        "SPICE's default is taken")
        else:
            params[key] = found[0]
    return Model(name, kind, params, frozenset(flags), card.words[0])


def numbers(pairs: Iterable[tuple[str, float | None]]) -> tuple[tuple[str, str], ...]:
    """Options of a board part with their numbers in full; None is left out."""
    return tuple((key, repr(float(f"{value:.15g}"))) for key, value in pairs if value is not None)


def diode_options(model: Model, area: float, many: float) -> tuple[tuple[str, str], ...]:
    """is, n, rs, bv, ibv of a D model at an area factor and `many` in parallel.

    As in ngspice: the current at breakdown is that of the model, whatever the area.
    """
    rs, bv, all_ = model.get(0.0, "rs"), model.get(0.0, "bv", "vb"), area * many
    return numbers((("is", model.get(1e-14, "is", "js") * all_), ("n", model.get(1.0, "n")),
                    ("rs", rs / all_ if rs else None), ("bv", bv or None),
                    ("ibv", model.get(1e-3, "ibv", "ib") * many if bv else None)))


def bipolar_options(model: Model, area: float) -> tuple[tuple[str, str], ...]:
    """is, bf, br of an NPN or PNP model at an area factor."""
    return numbers((("is", model.get(1e-16, "is") * area), ("bf", model.get(100.0, "bf")),
                    ("br", model.get(1.0, "br"))))


def mos_options(model: Model, ratio: float, many: float) -> tuple[tuple[str, str], ...]:
    """vto, kp and body of a level-1 or VDMOS model at a ratio W/L, `many` in parallel.

    A MOS level 1 body is SPICE's bulk junction to the drain; a VDMOS has a body diode of its own.
    """
    power = model.kind == "vdmos"
    return numbers((("vto", model.get(0.0, "vto", "vt0")), ("kp", model.get(2e-5, "kp") * ratio * many),
                    ("body.is", model.get(1e-14, "is") * many),
                    ("body.n", model.get(1.0, "n") if power else 1.0),
                    ("body.rs", model.get(0.0, "rb") / many or None if power else None)))
