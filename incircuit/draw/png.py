"""SVG to PNG, without a browser and without a network."""

from __future__ import annotations

from incircuit.errors import DrawError


def png_of(svg: str, scale: float = 2.0) -> bytes:
    """The picture as PNG, `scale` pixels for one. Raises DrawError where the renderer is not installed."""
    try:
        import resvg_py
    except ImportError:
        raise DrawError("a .png needs one more package: pip install resvg-py, or write .svg") from None
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=int(scale)))
