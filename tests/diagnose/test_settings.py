"""Every number in the data files is used, has its source, and every key that the code names exists."""

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

import kilter.diagnose.settings
from kilter.diagnose.settings import settings

DATA = {
    name: tomllib.loads(files("kilter.data").joinpath(name).read_text("utf-8"))
    for name in ("diagnosis.toml", "costs.toml")
}
FOLDER = Path(kilter.diagnose.settings.__file__).parent
NAMED = set(re.findall(r"settings?\(\"([a-z_]+)\"\)", "".join(p.read_text("utf-8") for p in FOLDER.glob("*.py"))))
ENTRIES = [(name, key) for name, table in DATA.items() for key in table]


@pytest.mark.parametrize(("name", "key"), ENTRIES)
def test_every_number_is_used_and_says_where_it_is_from(name, key):
    entry = DATA[name][key]
    assert key in NAMED
    assert entry["kind"] in ("standard", "handbook", "sheet", "judgement", "memory")
    assert len(entry["source"]) > 20
    assert entry["unit"]


@pytest.mark.parametrize("key", sorted(NAMED))
def test_every_named_key_exists(key):
    assert settings(key) is not None
