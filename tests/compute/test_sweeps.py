"""
Sweeps of a whole board: readings are Ohm's, drawn faults have their prior odds, every worker gives the same bits.

The board is three equal resistors in a row from ten volts; what it reads is worked out by hand.
"""

from __future__ import annotations

import csv
import json
from math import exp
from pathlib import Path
from typing import Any

import pytest

from kilter.cli.main import run
from kilter.compute.run import pool_of, run_sweep
from kilter.diagnose.priors import priors_of
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.services.simulate_visits import drawn
from kilter.services.sweep_faults import fault_sets
from kilter.wiring.sweeps import fault_sweep, shared_files, visit_sweep

LADDER = Path(__file__).parents[1] / "cli" / "boards" / "ladder.toml"
BY_HAND = {  # volts at A (between R1 and R2) and B (between R2 and R3)
    "none": (20 / 3, 10 / 3),
    "R1:open": (0.0, 0.0),
    "R2:open": (10.0, 0.0),
    "R3:open": (10.0, 10.0),
    "R1:high": (10 * 2 / 3.5, 10 / 3.5),
    "R3:low": (10 * 1.6 / 2.6, 10 * 0.6 / 2.6),
}
"""By Ohm's law; 'high' is 1.5 and 'low' 0.6 times the value, as the part kinds data have it."""


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, str]]]:
    folder = tmp_path_factory.mktemp("swept")
    words = ["sweep", "faults", str(LADDER), "--to", str(folder / "results"), "--workers", "0", "--per-chunk", "5"]
    assert run([*words, "--table", str(folder / "table.csv")]) == 0
    with (folder / "table.csv").open(encoding="utf-8", newline="") as file:
        return folder, list(csv.DictReader(file))


@pytest.mark.parametrize("fault", sorted(BY_HAND))
def test_readings_are_ohms(swept: tuple[Path, list[dict[str, str]]], fault: str) -> None:
    rows = {
        row["point"]: float(row["middle"])
        for row in swept[1]
        if (row["faults"], row["quantity"], row["state"]) == (fault, "voltage", "bench")
    }
    assert (rows["A"], rows["B"]) == pytest.approx(BY_HAND[fault], abs=0.15)  # tolerance draws: a few of 5 % parts


def test_every_fault_is_there_once(swept: tuple[Path, list[dict[str, str]]]) -> None:
    board = load_board(LADDER)
    faults = {":".join(one) for one in priors_of(board).log_odds}
    assert {row["faults"] for row in swept[1]} == faults | {"none"}


def test_the_same_bits_from_any_number_of_workers(
    swept: tuple[Path, list[dict[str, str]]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["sweep", "faults", str(LADDER), "--workers", "2", "--per-chunk", "5", "--json"]
    assert run([*words, "--to", str(tmp_path / "two")]) == 0
    two = json.loads(capsys.readouterr().out)
    again = [*words[:4], "0", *words[5:]]
    assert run([*again, "--to", str(swept[0] / "results")]) == 0
    one = json.loads(capsys.readouterr().out)
    assert one["sha256"] == two["sha256"]
    assert (one["chunks_resumed"], one["efficiency"]) == (4, None)
    assert two["chunks_resumed"] == 0


def test_a_cluster_gives_the_same_visits(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    sweep = visit_sweep(LADDER, 2, 3, per_chunk=1)
    here = run_sweep(sweep, pool_of("0"), tmp_path / "here")
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=None) as cluster:
        there = run_sweep(sweep, pool_of(cluster.scheduler_address), tmp_path / "there")
    assert there.sha256 == here.sha256
    assert [row["number"] for result in here.results for row in result] == list(range(2))


def test_pairs_are_of_two_parts() -> None:
    sets = fault_sets(load_board(LADDER), 2)
    singles = [one for one in sets if len(one) == 1]
    by_part: dict[str, int] = {}
    for ((part, _),) in singles:
        by_part[part] = by_part.get(part, 0) + 1
    same = sum(n * (n - 1) // 2 for n in by_part.values())
    every = len(singles) * (len(singles) - 1) // 2
    assert len(sets) == 1 + len(singles) + every - same


def test_faults_are_drawn_by_their_odds() -> None:
    """The share of each part among single faults is its odds' share; 3,000 draws, four standard errors."""
    board, count = load_board(LADDER), 3000
    priors = priors_of(board)
    odds = {fault: exp(log) for fault, log in priors.log_odds.items()}
    found: dict[Any, int] = {}
    single = 0
    for number in range(count):
        faults = drawn(priors, number, 8).faults
        if len(faults) == 1:
            single += 1
            (one,) = faults
            found[one] = found.get(one, 0) + 1
    for fault, value in odds.items():
        share = value / sum(odds.values())
        error = 4 * (share * (1 - share) / single) ** 0.5
        assert found.get(fault, 0) / single == pytest.approx(share, abs=error), fault


def test_an_object_is_the_same_whenever_it_is_drawn() -> None:
    first, again = (priors_of(load_board(LADDER)) for _ in range(2))
    alone = [drawn(first, number, 1).faults for number in (7, 4)]
    assert [drawn(again, number, 1).faults for number in range(8)][7:3:-3] == alone


def test_a_board_that_is_not_there() -> None:
    with pytest.raises(BadInput, match="no file"):
        shared_files(Path("nowhere.toml"))


@pytest.mark.parametrize(
    "words",
    [
        ["faults", "--per-chunk", "0"],
        ["visits", "--visits", "0"],
        ["visits", "--seed", "-1"],
        ["faults", "--workers", "many"],
    ],
)
def test_choices_that_cannot_be(words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sweep", words[0], str(LADDER), "--to", str(tmp_path / "x"), *words[1:]]) == 2
    assert "Allowed:" in capsys.readouterr().err


def test_chunks_do_not_depend_on_workers() -> None:
    assert fault_sweep(LADDER, 1).identity() == fault_sweep(LADDER, 1).identity()
    assert fault_sweep(LADDER, 1, 5).identity() != fault_sweep(LADDER, 1, 6).identity()
