"""One line of a readings file: a reading, a statement, or neither."""

from __future__ import annotations

import re
from datetime import datetime
from typing import NamedTuple

from incircuit.board.faults import Faults, Line, TooManyFaults, did_you_mean
from incircuit.board.lexer import LONGEST_LINE, Split, Token, split_line, unquoted
from incircuit.board.model import Place
from incircuit.board.supplies import HIGHEST
from incircuit.errors import Problem, UnitError
from incircuit.meter.typed import SOUNDS, UNIT_OF_MODE, Typed, last_digit, parse_shown
from incircuit.story.model import Entry, ReadingEntry, StateEntry, When
from incircuit.story.words import COLDEST, HOTTEST, LATEST, SOONEST, STATE_FORMS, WHEN_WORDS
from incircuit.units import parse_value, shown

READING = 'GATE DRV diode 0.011 [first, settled or after 5s] ["remark"]'
_STAMP = re.compile(r"@([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})?)")
_BYTE = re.compile("[\udc80-\udcff]")  # what surrogateescape makes of a byte
_UNSEEN = "\N{REPLACEMENT CHARACTER}"
_QUOTES = 'a " inside is written \\", a \\ is written \\\\'
_DEGREES = re.compile(r"(.*[0-9.]) ?(?:°C|C)")


class _Tail(NamedTuple):
    """What may follow a reading or a statement."""

    when: When
    remark: str
    stamp: str


def parse_line(line: Line) -> tuple[Entry, tuple[Problem, ...]]:
    """The entry of a line, and its faults; a plain Entry where it cannot be read."""
    mine = Faults()
    entry = Entry(line=line.text, place=Place(line.file, line.number))
    if line.text.lstrip(" \t").startswith("#"):
        return entry, ()  # whatever is in it: a crash may have cut a character in two
    try:
        split = _split(line, mine)
        if split is not None and split.tokens:
            tokens = split.tokens
            place = Place(line.file, line.number, tokens[0].column)
            found = (_statement if tokens[0].text in STATE_FORMS else _reading)(tokens, line, place, mine)
            entry = found if found is not None and not mine.problems else Entry(line=line.text, place=place)
    except TooManyFaults:  # a line of nothing else
        entry = Entry(line=line.text, place=Place(line.file, line.number))
    return entry, tuple(mine.problems)


def _split(line: Line, faults: Faults) -> Split | None:
    """The tokens, unless bytes of the line are no text; they were decoded to lone surrogates."""
    bad = _BYTE.search(line.text[:LONGEST_LINE])
    if bad is None:
        return split_line(line, faults, "readings")
    seen = "".join(c if c.isprintable() or c == "\t" else _UNSEEN for c in line.text[:200])
    at = bad.start() if bad.start() < len(seen) else 0
    faults.add(Line(line.file, line.number, seen), at + 1,
               f"byte 0x{ord(bad.group()) - 0xDC00:02X} is not UTF-8 text", "type it again and save as UTF-8")
    return None


def _reading(tokens: list[Token], line: Line, place: Place, faults: Faults) -> ReadingEntry | None:
    if len(tokens) < 3 or (len(tokens) == 3 and tokens[2].text in UNIT_OF_MODE):
        missing = ("BLACK", "MODE", "SHOWN")[len(tokens) - 1:]
        hint = did_you_mean(tokens[0].text, STATE_FORMS) or f"write {READING}"
        faults.add(line, tokens[0].column, f'"{shown(tokens[0].text)}" is no state word, and a reading is '
                   f"RED BLACK MODE SHOWN: {', '.join(missing)} missing", hint)
        return None
    red, black = (_pad(token, line, faults) for token in tokens[:2])
    if red and red == black:
        faults.add(line, tokens[1].column, f"both probes are on {shown(red)}", "name two different pads")
    mode = tokens[2].text
    if mode not in UNIT_OF_MODE:
        faults.add(line, tokens[2].column, f'"{shown(mode)}" is not a mode of the meter',
                   did_you_mean(mode, UNIT_OF_MODE) or f"one of {', '.join(UNIT_OF_MODE)}")
        return None
    text, used = _display(tokens[3:], mode)
    read = _read(Token(text, tokens[3].column), mode, line, faults)
    tail = _tail(tokens[3 + used:], line, faults, "a reading", (*WHEN_WORDS, *SOUNDS))
    if read is None:
        return None
    return ReadingEntry(red, black, mode, text, *read, tail.when, tail.remark, tail.stamp, line=line.text,
                        place=place)


def _display(tokens: list[Token], mode: str) -> tuple[str, int]:
    """What the display showed, and how many tokens tell it: ``10.1 kΩ`` and ``12 beep`` are two."""
    text = tokens[0].text
    if len(tokens) > 1 and tokens[1].text not in WHEN_WORDS:
        both = f"{text} {tokens[1].text}"
        if tokens[1].text.lower() in SOUNDS or _is_display(both, mode):
            return both, 2
    return text, 1


def _is_display(text: str, mode: str) -> bool:
    try:
        parse_shown(text, mode)
    except UnitError:
        return False
    return True


def _read(token: Token, mode: str, line: Line, faults: Faults) -> tuple[Typed, float] | None:
    """What the display means, and the weight of its last digit."""
    text, _, sound = token.text.rpartition(" ")
    if not (text and sound.lower() in SOUNDS):
        text, sound = token.text, ""
    try:
        typed, step = parse_shown(text, mode), last_digit(text, mode)
        if sound:
            typed = typed._replace(beep=parse_shown(sound, mode).beep)
    except UnitError as error:
        message, _, hint = str(error).partition(": ")
        faults.add(line, token.column, message, hint)
        return None
    return typed, step


def _statement(tokens: list[Token], line: Line, place: Place, faults: Faults) -> StateEntry | None:
    word = tokens[0].text
    form = STATE_FORMS[word]
    given = tokens[1:]
    many = len(form.arguments)
    if len(given) < many:
        what = " ".join(argument.upper() for argument in form.arguments)
        faults.add(line, tokens[0].column, f"{word} takes {what}", _reads_a_net(tokens, form.example))
        return None
    mode = given[1].text if len(given) > max(many, 2) else ""
    if mode in UNIT_OF_MODE and _is_display(given[2].text, mode):
        faults.add(line, tokens[0].column, f"{word} begins a statement", _reads_a_net(tokens, ""))
        return None
    args: list[str] = []
    number: float | None = None
    used = many
    for argument, token in zip(form.arguments, given, strict=False):
        if argument in ("volts", "celsius"):
            text, used = _with_unit(given[many - 1:], many)
            number = _number(Token(text, token.column), argument, line, faults, _reads_a_net(tokens, ""))
            args.append(text)
        else:
            args.append(_pad(token, line, faults))
    if form.arguments[:2] == ("pad", "pad") and args[0] and args[0] == args[1]:
        faults.add(line, given[1].column, f"{shown(args[1])} is named twice", "name two different pads")
    tail = _tail(given[used:], line, faults, f"a {word} statement", ())
    return StateEntry(word, tuple(args), number, tail.remark, tail.stamp, line=line.text, place=place)


def _reads_a_net(tokens: list[Token], example: str) -> str:
    """Hint for a line that begins with a state word but has a mode where a reading has it."""
    if len(tokens) > 2 and tokens[2].text in UNIT_OF_MODE:
        return f'the red lead on a net of that name is written "{tokens[0].text}", with the quotes'
    return f"write {example}" if example else ""


def _with_unit(tokens: list[Token], used: int) -> tuple[str, int]:
    """The last argument, with the unit where that stands apart: ``48 V``."""
    if len(tokens) > 1 and tokens[1].text in ("V", "mV", "kV", "C", "°C", "s", "ms"):
        return f"{tokens[0].text} {tokens[1].text}", used + 1
    return tokens[0].text, used


def _number(token: Token, what: str, line: Line, faults: Faults, hint: str) -> float | None:
    """Volts, or degrees Celsius."""
    degrees = _DEGREES.fullmatch(token.text) if what == "celsius" else None
    try:
        value = parse_value(degrees[1] if degrees else token.text, "V" if what == "volts" else "1")
    except UnitError as error:
        message, _, advice = str(error).partition(": ")
        faults.add(line, token.column, message, hint or advice)
        return None
    if what == "volts" and abs(value) > HIGHEST:
        faults.add(line, token.column, f"{value:g} V is no voltage of a board", f"at most {HIGHEST:g}")
        return None
    if what == "celsius" and not COLDEST <= value <= HOTTEST:
        faults.add(line, token.column, f"{value:g} °C is no temperature of a part on the bench",
                   f"between {COLDEST:g} and {HOTTEST:g}")
        return None
    return value


def _pad(token: Token, line: Line, faults: Faults) -> str:
    """A name as typed, quotes taken off; empty, with a fault noted, where it can be none."""
    name = unquoted(token.text)
    if name:
        return name
    if name is None:
        faults.add(line, token.column, f"quotes stand around a whole name: {shown(token.text)}",
                   _QUOTES)
    else:
        faults.add(line, token.column, "the name is empty", "name a pad, a pin or a part")
    return ""


def _tail(tokens: list[Token], line: Line, faults: Faults, what: str, words: tuple[str, ...]) -> _Tail:
    """When, remark and time stamp, in any order, each once."""
    when: When = ""
    remark = stamp = ""
    at = 0
    while at < len(tokens):
        token, text = tokens[at], tokens[at].text
        at += 1
        if text.startswith("after") and text[5:6].isdigit() and "after" in words and when == "":
            when = _after(Token(text[5:], token.column + 5), line, faults)
        elif text == "after" and text in words and when == "":
            seconds, used = _with_unit(tokens[at:], 1) if at < len(tokens) else ("", 0)
            when = _after(Token(seconds, tokens[at].column if used else token.column), line, faults)
            at += used
        elif text in ("first", "settled") and text in words and when == "":
            when = "first" if text == "first" else "settled"
        elif text.startswith('"') and not remark:
            remark = _remark(token, line, faults)
        elif text.startswith("@") and not stamp:
            stamp = _stamp(token, line, faults)
        else:
            known = text[:1] in ('"', "@") or text in words
            may = "one of first, settled and after 5s, " if words else ""
            near = "" if known else did_you_mean(text, words)
            wrong = "one too many in" if known else "no word of"
            faults.add(line, token.column, f"{shown(text)} is {wrong} {what}",
                       near or f"{may}a remark in quotes or @ and a time may follow")
            break  # what follows a stray word says little
    return _Tail(when, remark, stamp)


def _after(seconds: Token, line: Line, faults: Faults) -> When:
    try:
        value = parse_value(seconds.text, "s")
    except UnitError:
        value = 0.0
    found = f'found "{shown(seconds.text)}"' if seconds.text else "found nothing"
    if value <= 0.0:
        faults.add(line, seconds.column, f"after needs seconds, {found}", "write after 5s")
        return ""
    if not SOONEST <= value <= LATEST:
        faults.add(line, seconds.column,
                   f"after needs {SOONEST:g} to {LATEST:g} seconds, {found}, {value:g} s",
                   "write after 5s, and after 300s for five minutes")
        return ""
    return value


def _remark(token: Token, line: Line, faults: Faults) -> str:
    text = unquoted(token.text)
    if not text:
        wrong = "the remark is empty" if text == "" else "quotes stand around a whole text"
        faults.add(line, token.column, wrong, _QUOTES)
    return text or ""


def _stamp(token: Token, line: Line, faults: Faults) -> str:
    match = _STAMP.fullmatch(token.text)
    try:
        if match:
            datetime.fromisoformat(match[1])
            return match[1]
    except ValueError:
        pass  # a 31st of February
    faults.add(line, token.column, f'"{shown(token.text)}" is no time', "write @2026-11-25T18:03")
    return ""
