"""The adaptor command: the documented example, what it tells the diagnosis, and files that cannot be used."""

from __future__ import annotations

import json
import re
from math import log
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.importers.power_description import read_power
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds

PAGE = Path(__file__).parents[2] / "docs" / "adaptor.md"
DEMO = "src/kilter/data/demo"


@pytest.fixture
def pair(tmp_path: Path) -> Path:
    """The example of the page."""
    path = tmp_path / "pair.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)[1])  # type: ignore[index]
    return path


def test_the_documented_pair_is_refused_and_says_why(pair: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["adaptor", str(pair)]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Verdict: refused.")
    assert "centre negative, the adaptor is centre positive" in told
    assert "Nothing here says that it is safe" in told


def test_a_use_becomes_evidence_that_diagnose_takes(
    pair: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The ratio of the data file reaches the posterior: by Bayes' rule modes that were exposed gain on those not."""
    assert run(["adaptor", str(pair), "--board", DEMO, "--json"]) == 0
    told = capsys.readouterr().out
    reversed_input = next(row for row in table("safety/adaptor")["exposure"] if row["rule"] == "polarity")
    evidence = json.loads(told)["evidence"]
    assert evidence
    assert max(one["log_ratio"] for one in evidence) == pytest.approx(log(reversed_input["ratio"]))
    (tmp_path / "exposed.json").write_text(told)
    found = []
    for more in ([], ["--evidence", str(tmp_path / "exposed.json")]):
        run(["diagnose", DEMO, "--readings", f"{DEMO}/b1.csv", "--faults", "1", "--json", *more])
        found.append({one["part"]: one["probability"] for one in json.loads(capsys.readouterr().out)["suspects"]})
    exposed = {one["part"] for one in evidence}
    before, after = (sum(share for part, share in one.items() if part in exposed) for one in found)
    assert after >= before


def test_every_exposed_mode_exists() -> None:
    """A kind or mode that part_kinds.toml does not have would never be told of."""
    for row in table("safety/adaptor")["exposure"]:
        for kind, modes in row["parts"].items():
            known = {mode.key for mode in part_kinds()[kind].modes}
            assert set(modes) <= known, (kind, set(modes) - known)


@pytest.mark.parametrize(("old", "new", "named"), [
    ('kind = "dc"', 'kind = "DCX"', "ac"),
    ('volts = "9 V"', 'volts = "9 A"', "V"),
    ('volts = "9 V"', "volts = -9", "above 0"),
    ('place = "uk"', 'place = "moon"', "north_america"),
    ("[220, 240]", "[]", "above 0"),
    ("regulates", "regulate", "regulates"),
    ('lowest = "8 V"', 'lowest = "13 V"', "highest"),
    ('loaded_current = "1 A"', "", "together"),
    ('loaded_volts = "9.3 V"', 'loaded_volts = "19.3 V"', "open_volts"),
    ("used = true", 'used = "yes"', "true or false"),
    ("[wants]", "[wants", "TOML"),
])  # fmt: skip
def test_what_cannot_be_used_is_refused_in_four_parts(pair: Path, old: str, new: str, named: str) -> None:
    text = pair.read_text()
    assert old in text
    pair.write_text(text.replace(old, new, 1))
    with pytest.raises(BadInput, match=re.escape(named)) as caught:
        read_power(pair)
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))


def test_a_missing_file_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["adaptor", str(tmp_path / "none.toml")]) == 2
    assert "none.toml" in capsys.readouterr().err
