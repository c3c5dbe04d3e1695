"""Stand-ins of a collection file may describe two parts in place of a verdict; the rules then judge them."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.importers.collection_file import read_collection
from kilter.measure.errors import BadInput

HEAD = "kilter = 1\n"
FUSE = 'kind = "fuse", current = "1 A", characteristic = "T", standard = "IEC", volts = "250 V", size = "5x20"'


def written(tmp_path: Path, rows: str) -> Path:
    path = tmp_path / "collection.toml"
    path.write_text(HEAD + rows, "utf-8")
    return path


@pytest.mark.parametrize(("breaking", "verdict"), [(', breaking = "1500 A"', "fit"), (', breaking = "10 A"', "not"),
                         ("", "unknown")])  # fmt: skip
def test_the_rules_give_the_verdict(tmp_path: Path, breaking: str, verdict: str) -> None:
    """IEC 60127: a fuse of less breaking capacity is none in that place; one of unknown capacity is unknown."""
    rows = f'[[stand_ins]]\nwanted = "fuse T1A L"\npart = "fuse T1A H"\nwants = {{ {FUSE}, breaking = "35 A" }}\n'
    (found,) = read_collection(written(tmp_path, f"{rows}gives = {{ {FUSE}{breaking} }}\n")).stand_ins
    assert found.verdict == verdict


PAIR = 'wants = { kind = "fuse" }\ngives = { kind = "fuse" }'


@pytest.mark.parametrize("rows", [f'verdict = "fit"\n{PAIR}', 'wants = { kind = "fuse" }', 'verdict = "yes"',
                         PAIR.replace('"fuse"', '"fuse", amps = 1', 1), ""])  # fmt: skip
def test_half_a_description_is_refused(tmp_path: Path, rows: str) -> None:
    with pytest.raises(BadInput):
        read_collection(written(tmp_path, f'[[stand_ins]]\nwanted = "a"\npart = "b"\n{rows}\n'))
