"""Templates to HTML: every text escaped, a name that is missing is an error, nothing comes from outside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

TEMPLATES = Path(__file__).parent / "templates"


def page(template: str, **content: Any) -> str:
    """One HTML document. Pictures come in as SVG text of our own and are put in as they are."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    import incircuit

    there = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True)
    css = (TEMPLATES / "paper.css").read_text(encoding="utf-8")
    return there.get_template(template).render(css=css, version=incircuit.__version__, **content) + "\n"
