"""Where a probe touches: from what the technician types to a node."""

from __future__ import annotations

from incircuit.board.faults import did_you_mean
from incircuit.board.model import Board, Part
from incircuit.board.state import State, pad_node
from incircuit.errors import PadError
from incircuit.units import shown


def resolve_pad(board: Board, state: State, text: str) -> str:
    """Node under a probe: a net by its name or its pad's name, or ``REF.PIN``.

    A lifted pin is a node of its own, `pad_node`; any other pin gives its net, also when the part
    is removed (its pad is still there). The name of a net wins over a reading as REF.PIN; see
    `ambiguity`. Raises PadError with the nearest names.
    """
    net = _net_of(board, text)
    if net:
        return net
    ref, pin = split_pin(board, text)
    if not ref:
        raise PadError(f'"{shown(text)}" is no net, pad or pin of this board' + _hint(did_you_mean(
            text, _names(board, text))))
    part = board.part(ref)
    if pin not in part.pin_names:
        raise PadError(f'{ref} has no pin "{shown(pin)}": its pins are {" ".join(part.pin_names)}')
    return pad_node(ref, pin) if (ref, pin) in state.lifted else part.net(pin)


def ambiguity(board: Board, text: str) -> str:
    """A sentence where a pad could be two things, ``""`` otherwise.

    `resolve_pad` takes the net; whoever shows the answer can say so.
    """
    net = _net_of(board, text)
    ref, pin = split_pin(board, text)
    if not net or not ref or pin not in board.part(ref).pin_names or board.part(ref).net(pin) == net:
        return ""
    return f"{text} is taken as net {net}, not as pin {pin} of {ref} (on net {board.part(ref).net(pin)})"


def split_pin(board: Board, text: str) -> tuple[str, str]:
    """(ref, pin) of a text ``REF.PIN`` where a part has that ref, two empty texts otherwise."""
    ref, dot, pin = text.partition(".")
    if dot and pin and any(part.ref == ref for part in board.parts):
        return ref, pin
    return "", ""


def _net_of(board: Board, text: str) -> str:
    for net in board.nets:
        if net.name == text:
            return text
    if any(net == text for part in board.parts for _, net in part.pins):
        return text
    return next((net.name for net in board.nets if net.pad and net.pad == text), "")


def _names(board: Board, text: str) -> list[str]:
    """What may have been meant: nets and pads, and pins where the text has a dot."""
    names = [*board.net_names(), *(net.pad for net in board.nets if net.pad)]
    if "." in text:
        names += [f"{part.ref}.{pin}" for part in board.parts for pin in part.pin_names]
    elif any(part.ref == text for part in board.parts):
        names = [_first_pin(board.part(text))]
    return names


def _first_pin(part: Part) -> str:
    return f"{part.ref}.{part.pin_names[0]}"


def _hint(text: str) -> str:
    return f": {text}" if text else ""
