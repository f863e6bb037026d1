"""One part statement: `REF KIND PINS [VALUE] [words] [key=value]` to a Part."""

from __future__ import annotations

from dataclasses import dataclass, field

from incircuit.board.faults import Faults, Line, a_, did_you_mean
from incircuit.board.kinds import KindSpec
from incircuit.board.lexer import Token, unquoted
from incircuit.board.model import Part, Place
from incircuit.board.options import check_option, number_of, unit_in_words
from incircuit.board.pinlist import pin_faults, taught
from incircuit.board.refs import kind_of, ref_fault
from incircuit.board.valuelist import Values, looks_like_value, read_value, settle_value
from incircuit.board.windings import own_faults


@dataclass(slots=True)
class Reading:
    """A part statement while it is being read."""

    line: Line
    faults: Faults
    ref: str
    kind: KindSpec
    bare: list[Token] = field(default_factory=list)
    pins: list[tuple[str, str]] = field(default_factory=list)
    pin_places: dict[str, int] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    options: list[tuple[str, str]] = field(default_factory=list)
    option_places: dict[str, int] = field(default_factory=dict)
    values: Values = field(default_factory=Values)
    pins_wrong: bool = False  # said already, so that missing ones need no second fault
    value_wrong: bool = False

    def fault(self, column: int, message: str, hint: str = "") -> None:
        """Note a fault at a column of this statement."""
        self.faults.add(self.line, column, message, hint)


def parse_part(tokens: list[Token], line: Line, faults: Faults) -> Part | None:
    """The part of a statement's tokens; None where faults make it meaningless. Faults are noted."""
    before = len(faults.problems)
    ref = tokens[0]
    kind = kind_of(tokens, line, faults)
    if kind is None:
        return None
    wrong = ref_fault(ref.text)
    if wrong:
        faults.add(line, ref.column, wrong, "a reference is a letter, then letters or digits: R7")
    part = Reading(line, faults, ref.text, kind)
    for token in tokens[2:]:
        _sort(part, token)
    _bare_pins(part)
    for token in part.bare:
        _word_or_value(part, token)
    wrong, hint = settle_value(part.values, kind, part.options)
    if wrong and not part.value_wrong:
        second = part.pins[1][1] if len(part.pins) > 1 and kind.style == "bare" else ""
        if looks_like_value(second):
            hint = f"{second} was read as the second net: write {ref.text} {kind.name} NET NET {second}"
        part.fault(ref.column, wrong, hint)
    given = [name for name, _ in part.pins]
    if not part.pins_wrong:
        for pin, wrong, hint in pin_faults(kind, ref.text, given, tuple(part.words)):
            part.fault(part.pin_places.get(pin, tokens[1].column), wrong, hint)
    if len(faults.problems) == before and kind.options:
        for key, wrong, hint in own_faults(kind, ref.text, given, part.options):
            part.fault(part.option_places.get(key, tokens[1].column), wrong, hint)
    if len(faults.problems) > before:
        return None
    values = part.values
    return Part(ref.text, kind.name, tuple(part.pins), values.value, values.tolerance, values.rating,
                tuple(part.words), tuple(part.options), values.others,
                Place(line.file, line.number, ref.column))


def _sort(part: Reading, token: Token) -> None:
    """A token to pins, options or the bare ones; `key=text` is a pin unless the kind has that option."""
    key, equals, rest = token.text.partition("=")
    if not equals or '"' in key:
        if '"' in token.text:
            part.fault(token.column, "quoted text stands alone", f"write text={token.text} for a remark")
        else:
            part.bare.append(token)
        return
    kind, column = part.kind, token.column + len(key) + 1
    text = unquoted(rest)
    if not key or not rest or text is None or ("=" in text and '"' not in rest):
        part.fault(token.column, f'"{token.text}" is not NAME=TEXT',
                   "one name, =, one text without blanks; no net has = in its name")
        part.pins_wrong = True
    elif key in kind.pin_names:
        _pin(part, key, rest, token.column, column)
    elif kind.option(key) is not None:
        _option(part, key, text, token.column, column)
    elif kind.style == "open":
        _pin(part, key, rest, token.column, column)
    else:
        names = [n for n in (*kind.pin_names, *kind.option_names) if not n.endswith("*")]
        known = "its pins are two nets"
        if kind.style == "named":
            known = f"its pins are {' '.join(kind.pin_names)}"
        part.pins_wrong = True
        part.fault(token.column, f'{a_(kind.name)} has no pin or option "{key}"',
                   did_you_mean(key, names) or known)


def _pin(part: Reading, name: str, net: str, column: int, net_column: int) -> None:
    if '"' in net:
        part.pins_wrong = True
        part.fault(net_column, "a net's name has no quotes", f"write {name}={net.replace(chr(34), '')}")
    elif name in part.pin_places:
        part.pins_wrong = True
        part.fault(column, f"pin {name} is named twice", f"each pin of {part.ref} once")
    else:
        part.pin_places[name] = column
        part.pins.append((name, net))


def _option(part: Reading, key: str, text: str, column: int, text_column: int) -> None:
    spec = part.kind.option(key)
    assert spec is not None  # the caller asked
    names = {key, spec.same_as or key}
    same = next((k for k, _ in part.options if k in names or _same_as(part.kind, k) in names), "")
    if same or (key == "tol" and part.values.tolerance is not None):
        twice = same in ("", key)
        part.fault(column, f"{key}= is given twice" if twice else f"{key}= says the same as {same}=",
                   "keep one")
        return
    wrong = check_option(spec, text)
    if wrong:
        part.fault(text_column, f"{key}: {wrong}", f"{key}= takes {unit_in_words(spec)}")
    elif key == "tol":
        part.values.tolerance = number_of(spec, text)
    else:
        part.options.append((key, text))
        part.option_places[key] = text_column


def _same_as(kind: KindSpec, key: str) -> str:
    spec = kind.option(key)
    return spec.same_as or key if spec else key


def _bare_pins(part: Reading) -> None:
    """The first two bare tokens of a kind with bare pins are its nets, unless pins are named."""
    if part.pins:
        return
    if part.kind.style == "bare":
        part.pins = [(str(i), t.text) for i, t in enumerate(part.bare[:2], 1)]
        part.pin_places = {str(i): t.column for i, t in enumerate(part.bare[:2], 1)}
        part.bare = part.bare[2:]
    else:
        nets = part.bare[:len(part.kind.pins) or None]
        while nets and nets[-1].text in part.kind.words:
            nets.pop()
        if nets:
            _, wrong, hint = taught(part.kind, part.ref, [token.text for token in nets])
            part.fault(nets[0].column, wrong, hint)
            part.pins_wrong = True
            part.bare = part.bare[len(nets):]


def _word_or_value(part: Reading, token: Token) -> None:
    word, kind = token.text, part.kind
    if word in kind.words:
        clash = next((w for g in kind.word_groups if word in g for w in part.words if w in g), "")
        if clash:
            part.fault(token.column, f"{a_(kind.name)} cannot be {clash} and {word}" if clash != word
                       else f'"{word}" is said twice', "keep one")
        else:
            part.words.append(word)
    elif looks_like_value(word):
        wrong, hint = read_value(part.values, kind, word)
        if wrong:
            part.value_wrong = True
            part.fault(token.column, wrong, hint)
    else:
        part.value_wrong = True  # the unknown word may have been meant as the value
        known = [*kind.words, *(f"{o}=" for o in kind.option_names if not o.endswith("*"))]
        nets = "it has two nets; " if kind.style == "bare" else ""
        words = nets + (f"its words are {' '.join(kind.words)}" if kind.words else "no words follow its pins")
        part.fault(token.column, f'"{word}" is not a word of {a_(kind.name)}',
                   did_you_mean(word, known) or words)
