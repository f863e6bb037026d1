"""The browser of the page's tests prints and checks the papers too."""

from tests.web.conftest import browser

__all__ = ["browser"]
