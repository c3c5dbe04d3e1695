"""Figures for pages: drawn on the server, handed over as SVG."""

from __future__ import annotations

import io
from collections.abc import Callable
from threading import Lock
from typing import TYPE_CHECKING

from kilter.wiring.figures import require_plotting

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_turn = Lock()


def svg_of(draw: Callable[[], Figure]) -> bytes:
    """
    A figure as SVG without a date; one at a time, for the drawing library is not made for several threads.

    Raises:
        NotAvailable: The drawing library is not installed.
    """
    with _turn:
        require_plotting()
        page = io.BytesIO()
        draw().savefig(page, format="svg", metadata={"Date": None})
    return page.getvalue()
