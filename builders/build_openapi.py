"""Writes docs/openapi.json, the description of the programs' door, from its table: python builders/build_openapi.py."""

from __future__ import annotations

import json
from pathlib import Path

from kilter.store.start import start_store

TARGET = Path(__file__).parents[1] / "docs" / "openapi.json"


def text() -> str:
    """The document as the file has it."""
    from kilter.web.api.operations import described

    return json.dumps(described(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    start_store("kilter.web.settings")
    TARGET.write_text(text(), "utf-8")
    print(f"{TARGET.name}: {TARGET.stat().st_size} bytes")
