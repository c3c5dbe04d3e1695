"""Instruments of PyVISA's simulated backend, an independent implementation of the other end of the wire."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.importers.meter_log import read_meter_logs
from kilter.live.connection import NoAnswer, connect, listed
from kilter.live.log_file import LogFile
from kilter.live.profiles import families, scope_profile, value_profile
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.services.read_live import log_values, read_value

METER, SUPPLY = "TCPIP::192.0.2.1::INSTR", "TCPIP::192.0.2.2::INSTR"


def test_instruments_are_listed_and_identified(simulated: str) -> None:
    assert {"ASRL1::INSTR"} <= set(listed(backend=simulated))
    with connect(METER, backend=simulated) as meter:
        assert meter.identify().startswith("A bench meter")


@pytest.mark.parametrize("address", [METER, "ASRL1::INSTR"])
def test_a_reading(address: str, simulated: str) -> None:
    profile = value_profile("meters", "measure")
    with connect(address, backend=simulated) as meter:
        found = read_value(meter, profile.query("voltage"), point="TP1", quantity_key="voltage", state="on")
    assert (found.point, found.value, found.instrument) == ("TP1", 5.023, "dmm")
    assert found.uncertainty > 0
    assert found.time.endswith("Z")


def test_over_limit_and_not_a_number(simulated: str) -> None:
    """9.9E37 is infinity and 9.91E37 not a number (SCPI-99, volume 1, 7.2.1.5; from memory)."""
    with connect(METER, backend=simulated) as meter:
        assert meter.ask_number("MEASure:RESistance?") == float("inf")
        assert meter.ask_number("MEASure:FREQuency?") == 1e6
        with pytest.raises(NoAnswer, match="stands for no number"):
            meter.ask_number("MEASure:CURRent:DC?")


def test_an_unknown_question_is_not_taken_for_a_value(simulated: str) -> None:
    with connect(METER, backend=simulated) as meter, pytest.raises(NoAnswer, match="'ERROR'"):
        meter.ask_number("MEASure:DIODe?")


def test_a_supply_is_logged_and_the_log_is_read_again(simulated: str, tmp_path: Path) -> None:
    path, ask = tmp_path / "supply.csv", value_profile("supplies", "measure").ask
    waited: list[float] = []
    with connect(SUPPLY, backend=simulated) as supply:
        count = log_values(
            supply, ask, LogFile(path, list(ask)).keep, entries=3, every_s=2.0, wait=waited.append, tries=3
        )
    assert (count, waited) == (6, [2.0, 2.0])
    logs = read_meter_logs(path)
    assert [log.values.tolist() for log in logs] == [[9.01] * 3, [0.118] * 3]
    assert [log.unit for log in logs] == ["V", "A"]


def test_an_existing_log_is_continued_and_other_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    LogFile(path, ["voltage"])
    before = path.read_text()
    LogFile(path, ["voltage"])
    assert path.read_text() == before
    other = tmp_path / "notes.txt"
    other.write_text("dear diary")
    with pytest.raises(BadInput, match="no log of these"):
        LogFile(other, ["voltage"])
    assert other.read_text() == "dear diary"


def test_every_family_asks_for_quantities_that_exist() -> None:
    for group in ("meters", "supplies"):
        for key in families(group):
            for name in value_profile(group, key).ask:
                assert quantity(name).unit
    assert all(scope_profile(key).data.endswith("?") for key in families("scopes"))


def test_an_unknown_family_is_refused() -> None:
    with pytest.raises(BadInput, match="measure"):
        value_profile("meters", "best")
    with pytest.raises(BadInput, match="voltage"):
        value_profile("supplies", "measure").query("resistance")
