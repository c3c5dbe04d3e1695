"""Every number of planning is used, says where it is from, and every key that the code names exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import kilter
from kilter.measure.tables import table

ROOT = Path(kilter.__file__).parent
FILES = ("allocation", "repair_options", "rework", "stock")
CODE = "".join(path.read_text("utf-8") for path in ROOT.rglob("*.py"))
NAMED = set(re.findall(r"numbers?\(\s*[\"']([a-z_]+)[\"'],\s*[\"']([a-z_]+)[\"']", CODE))
ENTRIES = [(name, key) for name in FILES for key, entry in table(f"planning/{name}").items()
           if isinstance(entry, dict) and "value" in entry]  # fmt: skip
CHOSEN = {("stock", "tested"), ("stock", "untested"), ("repair_options", "contact_mended"),
          ("repair_options", "fitting")}  # fmt: skip
"""Named through a condition."""


@pytest.mark.parametrize(("name", "key"), ENTRIES)
def test_every_number_is_used_and_says_where_it_is_from(name: str, key: str) -> None:
    entry = table(f"planning/{name}")[key]
    assert (name, key) in NAMED or ((name, key) in CHOSEN and f'"{key}"' in CODE)
    assert entry["kind"] in ("standard", "handbook", "sheet", "judgement", "memory")
    assert len(entry["source"]) >= 26
    assert entry["unit"]


@pytest.mark.parametrize(("name", "key"), sorted(one for one in NAMED if one[0] in FILES))
def test_every_named_key_exists(name: str, key: str) -> None:
    assert "value" in table(f"planning/{name}")[key]


def test_leaks_and_accession_states_say_where_they_are_from() -> None:
    assert all(len(one["source"]) > 20 for one in table("planning/rework")["leaks"].values())
    assert all(len(one["source"]) > 20 for one in table("planning/accession").values())
