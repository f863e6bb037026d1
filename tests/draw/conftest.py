"""Some tests draw with little search: what they arranged must not be kept for the others."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def forget_arrangements() -> Iterator[None]:
    """Start and end with no arrangement kept."""
    from incircuit.draw.arrangement import arranged, planned

    for kept in (arranged, planned):
        kept.cache_clear()
    yield
    for kept in (arranged, planned):
        kept.cache_clear()
