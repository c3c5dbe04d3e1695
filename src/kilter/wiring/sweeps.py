"""
Sweeps over a board or a network: what each chunk does, wherever it runs.

A worker may be another machine, so what all chunks share brings the board's files with it; a worker reads them once.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from kilter.circuit.board import Board
from kilter.compute.sweep import Sweep, canonical
from kilter.diagnose.learned_odds import Weighted
from kilter.diagnose.priors import priors_of
from kilter.importers.load import load_board
from kilter.importers.network_file import read_network
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.diagnose import Diagnoser
from kilter.services.forecast_network import futures, plain_member, shapes
from kilter.services.simulate_visits import drawn, visit
from kilter.services.sweep_faults import fault_sets, swept
from kilter.simulate.chain import usual_chain

ENDINGS = (".toml", ".cir", ".sp", ".spice", ".lib", ".inc", ".net")
"""Files that a board may be read from."""


def fault_sweep(board: Path, most: int, per_chunk: int | None = None) -> Sweep:
    """
    Every fault of a board, or every pair, in chunks.

    Args:
        board: Its file.
        most: Faults at once, 1 or 2.
        per_chunk: Fault sets in a chunk; the usual number unless given.

    Raises:
        BadInput: The board cannot be read.
    """
    sets = fault_sets(load_board(board), most)
    size = per_chunk or int(table("compute/sweeps")["faults_in_chunk"]["value"])
    chunks = [{"sets": [[list(f) for f in one] for one in sets[n : n + size]]} for n in range(0, len(sets), size)]
    return Sweep("faults", _faults, shared_files(board), chunks)


def visit_sweep(board: Path, visits: int, seed: int, per_chunk: int | None = None) -> Sweep:
    """
    Simulated visits to a board, in chunks.

    Raises:
        BadInput: The board cannot be read, or its faults cannot be drawn.
    """
    drawn(priors_of(load_board(board)), 0, seed)
    size = per_chunk or int(table("compute/sweeps")["visits_in_chunk"]["value"])
    chunks = [{"first": n, "last": min(n + size, visits)} for n in range(0, visits, size)]
    return Sweep("visits", _visits, {**shared_files(board), "seed": seed}, chunks)


def forecast_sweep(
    network: Path, counts: Sequence[Weighted], years: float, scenarios: int, seed: int, per_chunk: int | None = None
) -> Sweep:
    """
    The futures of every collection of a network, in chunks of collections.

    Args:
        network: Its file.
        counts: What was learned about the odds of parts.
        years: How far ahead. [a]
        scenarios: How many futures.
        seed: Of everything random.
        per_chunk: Collections in a chunk; the usual number unless given.

    Raises:
        BadInput: The network file cannot be read.
    """
    name, members = read_network(network)
    numbers = table("compute/forecast")
    size = per_chunk or int(numbers["members_in_chunk"]["value"])
    plain = [plain_member(number, one) for number, one in enumerate(members)]
    chunks = [{"members": plain[n : n + size]} for n in range(0, len(plain), size)]
    shared = {
        "network": name, "shapes": shapes(members, counts), "years": years, "scenarios": scenarios,
        "enough": numbers["enough"]["value"], "seed": seed,
    }  # fmt: skip
    return Sweep("forecast", _futures, shared, chunks)


def shared_files(board: Path) -> dict[str, Any]:
    """
    The board's file and what lies beside it that it may name, as texts.

    Raises:
        BadInput: There is no such file.
    """
    path = board / "board.toml" if board.is_dir() else board
    if not path.is_file():
        raise BadInput(
            "Cannot sweep the board", f"no file {path}", "a board file, a netlist or their folder", "Name it."
        )
    most = int(table("compute/sweeps")["most_bytes"]["value"])
    files = {
        one.name: one.read_text("utf-8", "replace")
        for one in sorted(path.parent.iterdir())
        if one == path or (one.is_file() and one.suffix.lower() in ENDINGS and one.stat().st_size <= most)
    }
    return {"board": path.name, "files": files}


def _faults(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[dict[str, Any]]:
    board = _board(shared)
    sets = [frozenset((part, mode) for part, mode in one) for one in chunk["sets"]]
    return swept(board, usual_chain(board), sets)


def _visits(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[dict[str, Any]]:
    board = _board(shared)
    weigher = Diagnoser(board, usual_chain(board), power_checks=True, not_working=True)
    numbers = range(chunk["first"], chunk["last"])
    priors = priors_of(board)
    return [visit(board, weigher, drawn(priors, number, shared["seed"])) for number in numbers]


def _futures(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> dict[str, Any]:
    return futures(shared, chunk["members"])


def _board(shared: Mapping[str, Any]) -> Board:
    return _read(canonical({"board": shared["board"], "files": shared["files"]}))


@lru_cache(maxsize=4)
def _read(files: bytes) -> Board:
    plain = json.loads(files)
    with TemporaryDirectory(prefix="kilter-") as folder:
        for name, text in plain["files"].items():
            (Path(folder) / Path(name).name).write_text(text, "utf-8")
        return load_board(Path(folder) / plain["board"])
