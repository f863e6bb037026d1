"""Strokes as SVG text. Colours are attributes, so that a style sheet of the page wins over them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from incircuit.draw.strokes import Circle, Line, Point, Stroke, Text

INK, MUTED, PAPER = "#1b1b1b", "#6b6b6b", "#ffffff"
RED, CURRENT, MARK, MARK_FILL = "#a8001c", "#00539c", "#8a4200", "#fdebd0"
"""On white: 8.0, 7.9 and 6.9 to 1 (WCAG 2.1 formula); blue and orange stay apart for colour-blind eyes."""
FONT = "Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"


def escaped(text: str) -> str:
    """Text for SVG and HTML, quotes included."""
    return (printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
            .replace('"', "&quot;").replace("'", "&#39;"))


def printable(text: str) -> str:
    """Text that XML and HTML may hold: control characters show as a question mark in a box."""
    return "".join(c if _allowed(ord(c)) else "\ufffd" for c in text)


def _allowed(code: int) -> bool:
    """Whether XML 1.0 allows a character (clause 2.2), control characters left out."""
    return code in (9, 10) or 32 <= code < 127 or 160 <= code < 0xD800 or (
        code > 0xDFFF and code & 0xFFFE != 0xFFFE)


def number(x: float) -> str:
    """A coordinate with one digit after the point, no sign on zero.

    >>> number(3.04), number(-0.01)
    ('3', '0')
    """
    text = f"{x:.1f}"
    text = text[:-2] if text.endswith(".0") else text
    return "0" if text == "-0" else text


def tag(name: str, attributes: Mapping[str, str | float | None], inside: str | None = None) -> str:
    """One element; attributes that are None are left out."""
    said = "".join(f' {key}="{escaped(number(v) if isinstance(v, float) else v)}"'
                   for key, v in attributes.items() if v is not None)
    return f"<{name}{said}/>" if inside is None else f"<{name}{said}>{inside}</{name}>"


def path_data(points: Iterable[Point], closed: bool = False) -> str:
    """The d of a polyline.

    >>> path_data([(0, 0), (10, 5)])
    'M0 0L10 5'
    """
    data = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f"M{data}{'Z' if closed else ''}"


def stroke(s: Stroke, ink: str = INK) -> str:
    """One stroke; line colour and width come from the group it stands in, fills from its own kind."""
    match s:
        case Line():
            fill = {"none": "none", "paper": PAPER, "solid": ink}[s.fill]
            return tag("path", {
                "d": path_data(s.points, s.closed), "fill": fill,
                "class": f"fill-{s.fill}" if s.fill != "none" else None,
                "stroke-dasharray": "3 3" if s.dashed else None, "stroke-width": "3" if s.bold else None})
        case Circle():
            fill = {"none": "none", "paper": PAPER, "solid": ink}[s.fill]
            return tag("circle", {"cx": s.x, "cy": s.y, "r": float(s.r), "fill": fill,
                                  "class": f"fill-{s.fill}" if s.fill != "none" else None})
        case Text():
            return text(s)


def text(s: Text, fill: str = INK, weight: str | None = None, italic: bool = False) -> str:
    """A text element."""
    return tag("text", {
        "x": float(s.x), "y": float(s.y), "font-size": number(s.size), "class": f"text-{s.style}",
        "text-anchor": s.anchor if s.anchor != "start" else None, "fill": fill, "stroke": "none",
        "font-weight": weight or ("bold" if s.style == "ref" else None),
        "font-style": "italic" if italic else None}, escaped(s.text))


def group(attributes: Mapping[str, str | float | None], title: str, inside: Iterable[str]) -> str:
    """A group with a title that a browser shows under the pointer."""
    said = f"<title>{escaped(title)}</title>" if title else ""
    return tag("g", attributes, said + "".join(inside))


def document(width: float, height: float, label: str, inside: Iterable[str], described: str = "") -> str:
    """A picture that stands alone and inside an HTML page alike."""
    head = f"<title>{escaped(label)}</title>" + (f"<desc>{escaped(described)}</desc>" if described else "")
    frame = {"xmlns": "http://www.w3.org/2000/svg", "width": number(width), "height": number(height),
             "viewBox": f"0 0 {number(width)} {number(height)}", "role": "img", "aria-label": label,
             "font-family": FONT, "class": "picture"}
    paper = tag("rect", {"class": "paper", "width": "100%", "height": "100%", "fill": PAPER})
    return tag("svg", frame, head + paper + "\n" + "\n".join(inside) + "\n") + "\n"
