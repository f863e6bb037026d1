"""Changed inputs that still look like the files they come from, by a seeded random generator."""

from __future__ import annotations

import random

WORDS = (
    *b"net include alike board hidden resistor diode npn igbt bridge capacitor chip relay".split(),
    *b"bv=5 is=1e-14 vf=0.6@1mA tol=10% access=heatsink pad=TP1 open closed 4k7 0R 450V A=A K=B".split(),
    *b"1e308 -1 nan inf 1e-400 0 99999999999999999999 1e9999 0x10 1_0 = \" # ' \\ . .. A.B.C R1.1".split(),
    *b"OL beep silent ohms farads esr volts lift remove fit short charge discharge power hot meter".split(),
    *b"first settled [ohms] [diode] { } [[ true".split(),
    b"10R 1%", b"after 5s", b"ranges = []", b"current = 0", b"open_circuit = -1",
    b"\r", b"\t", b"\x00", b"\xff",
    b"\xc2\xb5", b"\xce\xa9", b"\xe2\x80\xae", b"\xf0\x9f\x92\xa5",
)


def mutated(seeds: list[bytes], rng: random.Random) -> bytes:
    """One of the seeds after one to eight changes of bytes, tokens or lines, mostly few."""
    data = bytearray(rng.choice(seeds))
    for _ in range(rng.choice([1, 1, 1, 2, 2, 3, 5, 8])):
        rng.choice(_CHANGES)(data, seeds, rng)
    return bytes(data[:20_000])


def _spot(data: bytearray, rng: random.Random) -> int:
    return rng.randint(0, len(data))


def _flip(data: bytearray, _seeds: list[bytes], rng: random.Random) -> None:
    if data:
        data[rng.randrange(len(data))] = rng.randrange(256)


def _word(data: bytearray, _seeds: list[bytes], rng: random.Random) -> None:
    at = _spot(data, rng)
    data[at:at] = b" " * rng.randint(0, 1) + rng.choice(WORDS) + b" " * rng.randint(0, 1)


def _token(data: bytearray, _seeds: list[bytes], rng: random.Random) -> None:
    """A token becomes another word, or one from elsewhere in the file."""
    tokens = bytes(data).split()
    if tokens:
        token = rng.choice(tokens)
        at = bytes(data).find(token)
        data[at:at + len(token)] = rng.choice(WORDS if rng.random() < 0.5 else tokens)


def _lines(data: bytearray, seeds: list[bytes], rng: random.Random) -> None:
    """A line goes, is doubled, moves, or comes from another file."""
    lines = bytes(data).split(b"\n")
    at = rng.randrange(len(lines))
    kind = rng.random()
    if kind < 0.3:
        del lines[at]
    elif kind < 0.5:
        lines.insert(rng.randrange(len(lines) + 1), lines[at])
    elif kind < 0.7:
        lines.insert(rng.randrange(len(lines)), lines.pop(at))
    else:
        lines.insert(at, rng.choice(rng.choice(seeds).split(b"\n")))
    data[:] = b"\n".join(lines)


def _cut(data: bytearray, _seeds: list[bytes], rng: random.Random) -> None:
    begin, end = sorted((_spot(data, rng), _spot(data, rng)))
    if end - begin < 40 or rng.random() < 0.2:
        del data[begin:end]


def _repeat(data: bytearray, _seeds: list[bytes], rng: random.Random) -> None:
    begin = _spot(data, rng)
    piece = bytes(data[begin:begin + rng.randint(1, 12)])
    data[begin:begin] = piece * rng.choice([2, 3, 50, 400])


_CHANGES = (_flip, _word, _word, _token, _token, _token, _lines, _lines, _cut, _repeat)
