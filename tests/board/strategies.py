"""Boards for hypothesis, built from the kinds table so that a new kind is covered at once."""

from __future__ import annotations

from hypothesis import strategies as st

from incircuit.board import KINDS, Board, KindSpec, Net, OptionSpec, Part

NET_NAMES = st.text(
    st.characters(exclude_characters='#="', exclude_categories=("C", "Z")), min_size=1, max_size=6
)
TEXTS = st.text(
    st.characters(exclude_categories=("C",), exclude_characters="\u2028\u2029\xa0"), min_size=1, max_size=12
).filter(str.isprintable)
POSITIVE = st.floats(1e-14, 1e14)


def option_texts(spec: OptionSpec, pins: tuple[str, ...]) -> st.SearchStrategy[str]:
    """Texts that an option takes."""
    numbers = POSITIVE.map(repr)
    if spec.form == "number":
        return numbers
    if spec.form == "percent":
        return st.integers(0, 100).map(lambda n: f"{n}%")
    if spec.form == "drop":
        return numbers | st.tuples(numbers, numbers).map(lambda pair: f"{pair[0]}V@{pair[1]}A")
    if spec.form == "word":
        return st.sampled_from(spec.choices)
    if spec.form == "pins":
        return st.lists(st.sampled_from(pins), min_size=1, max_size=3).map(",".join)
    return TEXTS


@st.composite
def _options(draw: st.DrawFn, kind: KindSpec, pins: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    specs = [s for s in (*kind.options, kind.option("text"), kind.option("access")) if s is not None]
    specs = [
        s for s in specs if not s.name.endswith("*") and not s.same_as and s.name not in kind.value_options
    ]
    chosen = draw(st.lists(st.sampled_from(specs), max_size=3, unique_by=lambda s: s.name))
    return tuple((spec.name, draw(option_texts(spec, pins))) for spec in chosen)


@st.composite
def _pins(draw: st.DrawFn, kind: KindSpec, words: tuple[str, ...]) -> tuple[str, ...]:
    if kind.name == "transformer":
        return ("P1", "P2", "S1", "S2", *draw(st.lists(st.sampled_from(("S3", "T1")), max_size=0)))
    if kind.style == "open":
        return tuple(
            draw(st.lists(st.sampled_from(("1", "2", "VCC", "GND", "+", "IN-")), min_size=1, unique=True))
        )
    layout = draw(st.sampled_from(kind.required_pins(words)))
    extra = draw(st.lists(st.sampled_from(kind.optional), unique=True)) if kind.optional else []
    return tuple(draw(st.permutations(layout)) + extra)


@st.composite
def parts(draw: st.DrawFn, ref: str, nets: list[str]) -> Part:
    """A part of any kind with this reference between these nets."""
    kind = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    words = tuple(
        draw(st.sampled_from([w for w in group if w])) for group in kind.word_groups if draw(st.booleans())
    )
    pins = draw(_pins(kind, words))
    value = draw(POSITIVE) if kind.value_required or (kind.unit and draw(st.booleans())) else None
    maybe = st.none() | POSITIVE
    rating = draw(maybe)
    ratings = tuple(
        (unit, draw(POSITIVE))
        for unit in ("V", "A", "W")
        if unit not in (kind.rating_unit, kind.unit) and draw(st.booleans())
    )
    tolerance = draw(st.none() | st.floats(0.0, 1.0))
    return Part(
        ref,
        kind.name,
        tuple((pin, draw(st.sampled_from(nets))) for pin in pins),
        value,
        tolerance,
        rating,
        words,
        draw(_options(kind, pins)),
        ratings,
    )


@st.composite
def boards(draw: st.DrawFn) -> Board:
    """A board built in code: title, flags, nets, parts of any kind, alike groups."""
    names = draw(st.lists(NET_NAMES, min_size=1, max_size=5, unique=True))
    built = tuple(
        draw(parts(f"{letter}{at}", names)) for at, letter in enumerate(draw(st.text("RCDQU", max_size=5)))
    )
    nets = []
    for at, name in enumerate(draw(st.lists(st.sampled_from(names), unique=True))):
        hidden = draw(st.booleans())
        pad = f"TP {at}".replace(" ", "") if not hidden and draw(st.booleans()) else ""
        nets.append(Net(name, draw(st.just("") | TEXTS), "" if pad in names else pad, hidden))
    kinds: dict[str, list[str]] = {}
    for part in built:
        kinds.setdefault(part.kind, []).append(part.ref)
    alike = tuple(tuple(refs) for refs in kinds.values() if len(refs) > 1)
    return Board(draw(TEXTS), tuple(nets), built, alike, draw(st.sampled_from([(), ("worked-on",)])))
