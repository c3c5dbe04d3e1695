"""Libraries that come with the extra 'report', loaded when they are first wanted."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from kilter.measure.errors import NotAvailable

EXTRA = "report"


def extra(name: str, doing: str) -> Any:
    """
    The library.

    Args:
        name: Of its module.
        doing: What it is wanted for, such as 'Cannot write the report as PDF'.

    Raises:
        NotAvailable: It is not installed.
    """
    try:
        return import_module(name)
    except ImportError:
        raise NotAvailable(doing, f"no '{name}' on this machine", f"what the extra '{EXTRA}' brings",
                           f"Install it with: pip install 'kilter[{EXTRA}]'.") from None  # fmt: skip
