"""`kilter sweep`: long work in chunks, by processes of this machine or by a Dask cluster."""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from kilter.cli.forecast_text import forecast_plain, forecast_text
from kilter.cli.layout import as_json
from kilter.compute.run import Finished, pool_of, run_sweep
from kilter.compute.sweep import Sweep
from kilter.measure.errors import BadInput, OutOfRange
from kilter.measure.tables import table
from kilter.services.forecast_network import needs_of
from kilter.services.report_calibration import calibration_of
from kilter.services.simulate_visits import told
from kilter.wiring.experience_file import ExperienceFile
from kilter.wiring.sweeps import fault_sweep, forecast_sweep, visit_sweep

HELP = "long work in chunks, here or on a cluster"
DESCRIPTION = (
    "Every fault of a board with what each point would read, thousands of simulated visits with how well called "
    "probabilities came true, or what parts a network of collections will need. It goes on where it was stopped, and "
    "gives the same numbers whoever does the work."
)
MOST_VISITS = 1_000_000
MOST_SCENARIOS = 100_000
TABLE = ("faults", "state", "point", "quantity", "middle", "low", "high", "words", "unknown")


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to sweep", metavar="WHAT", required=True)
    faults = kinds.add_parser("faults", help="what every point reads under every fault")
    faults.add_argument("--pairs", action="store_true", help="also every two faults at once")
    faults.add_argument("--table", metavar="FILE", type=Path, help="also write all readings as CSV")
    visits = kinds.add_parser("visits", help="simulated visits, and how calls came true")
    visits.add_argument("--visits", metavar="N", type=int, default=200, help="how many (200)")
    forecast = kinds.add_parser("forecast", help="parts that a network of collections will need")
    forecast.add_argument("network", metavar="NETWORK", type=Path, help="network file (.toml)")
    forecast.add_argument("--years", metavar="N", type=float, required=True, help="how far ahead")
    forecast.add_argument("--scenarios", metavar="N", type=int, help="futures to draw")
    forecast.add_argument("--experience", metavar="FILE", type=Path, help="experience file; see 'kilter learn'")
    for one in (faults, visits):
        one.add_argument("board", metavar="BOARD", type=Path, help="board file, netlist, or folder with board.toml")
    for one in (visits, forecast):
        one.add_argument("--seed", metavar="N", type=int, default=1, help="of everything random (1)")
    for one, what in {faults: _faults, visits: _visits, forecast: _forecast}.items():
        one.add_argument("--to", metavar="DIR", type=Path, required=True, help="folder for the results, chunk by chunk")
        one.add_argument(
            "--workers",
            metavar="N",
            default="1",
            help="processes here, or a Dask scheduler's address, tcp://HOST:8786 (1)",
        )
        one.add_argument("--per-chunk", metavar="N", type=int, help="fault sets, visits or collections in a chunk")
        one.add_argument("--json", action="store_true", help="print plain data instead of text")
        one.set_defaults(sweep=what)


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    if chosen.per_chunk is not None and chosen.per_chunk < 1:
        raise OutOfRange(
            "Cannot divide the sweep", f"{chosen.per_chunk} in a chunk", "1 or more", "Choose such a number."
        )
    code: int = chosen.sweep(chosen)
    return code


def _faults(chosen: argparse.Namespace) -> int:
    sweep = fault_sweep(chosen.board, 2 if chosen.pairs else 1, chosen.per_chunk)
    if chosen.table and chosen.table.exists():
        raise BadInput(
            f"Cannot write {chosen.table}", "a file that is there already", "a new file", "Choose another name."
        )
    finished = _run(sweep, chosen)
    rows = [row for result in finished.results for row in result]
    if chosen.table:
        _write_table(chosen.table, rows)
    readings = sum(len(row["readings"]) for row in rows)
    if chosen.json:
        print(as_json({**_plain(finished), "fault_sets": len(rows), "readings": readings}))
    else:
        print(f"{len(rows)} fault sets, {readings} readings, in {chosen.to}")
        _print(finished)
    return 0


def _visits(chosen: argparse.Namespace) -> int:
    if not 1 <= chosen.visits <= MOST_VISITS or chosen.seed < 0:
        raise OutOfRange("Cannot simulate visits", f"{chosen.visits} visits with seed {chosen.seed}",
                         f"1 to {MOST_VISITS} visits, a seed from 0 on", "Choose such numbers.")  # fmt: skip
    finished = _run(visit_sweep(chosen.board, chosen.visits, chosen.seed, chosen.per_chunk), chosen)
    rows = [row for result in finished.results for row in result]
    found = calibration_of(told(rows))
    tests = sum(row["tests"] for row in rows) / len(rows)
    if chosen.json:
        print(as_json({**_plain(finished), "visits": len(rows), "mean_tests": tests, "calibration": found.plain()}))
        return 0
    print(f"{len(rows)} simulated visits, {tests:.1f} tests each, in {chosen.to}")
    print(
        "The model that weighs also made the readings: this tests the weighing, not whether the model is like a board."
    )
    for line in found.lines():
        print(line)
    _print(finished)
    return 0


def _forecast(chosen: argparse.Namespace) -> int:
    numbers = table("compute/forecast")
    scenarios = numbers["scenarios"]["value"] if chosen.scenarios is None else chosen.scenarios
    most = numbers["most_years"]["value"]
    if not 0 < chosen.years <= most or not 1 <= scenarios <= MOST_SCENARIOS or chosen.seed < 0:
        raise OutOfRange("Cannot forecast", f"{chosen.years:g} years, {scenarios} futures, seed {chosen.seed}",
                         f"above 0 to {most:g} years, 1 to {MOST_SCENARIOS} futures, a seed from 0 on",
                         "Choose such numbers.")  # fmt: skip
    counts = ExperienceFile(chosen.experience).read().weighted() if chosen.experience else ()
    sweep = forecast_sweep(chosen.network, counts, chosen.years, scenarios, chosen.seed, chosen.per_chunk)
    finished = _run(sweep, chosen)
    share = float(numbers["enough"]["value"])
    needs = needs_of(finished.results, share)
    if chosen.json:
        print(as_json({**_plain(finished), **forecast_plain(needs, finished.results, share)}))
        return 0
    print(forecast_text(needs, finished.results, share, chosen.years))
    _print(finished)
    return 0


def _run(sweep: Sweep, chosen: argparse.Namespace) -> Finished:
    def progress(done: int, of: int) -> None:
        if sys.stderr.isatty():
            print(f"\r{done} of {of} chunks", end="\n" if done == of else "", file=sys.stderr, flush=True)

    return run_sweep(sweep, pool_of(chosen.workers), chosen.to, progress=progress)


def _print(finished: Finished) -> None:
    print(f"results {finished.sha256}")
    if finished.resumed:
        print(f"{finished.resumed} chunks were there from an earlier run")
    if finished.efficiency is not None:
        print(
            f"{finished.wall:.1f} s with {finished.workers} workers, {finished.work:.1f} s of it work: "
            f"{finished.efficiency:.0%} of the workers' time, starting them included"
        )
    if finished.deaths:
        print(f"{finished.deaths} times a worker died and was replaced; nothing was lost")
    if len(finished.made_by) > 1:
        print(f"Made by workers that differ, so the last bits may: {'; '.join(finished.made_by)}", file=sys.stderr)


def _plain(finished: Finished) -> dict[str, Any]:
    return {
        "sha256": finished.sha256,
        "workers": finished.workers,
        "worker_deaths": finished.deaths,
        "chunks_resumed": finished.resumed,
        "wall_s": finished.wall,
        "work_s": finished.work,
        "efficiency": finished.efficiency,
        "made_by": list(finished.made_by),
    }


def _write_table(path: Path, rows: Iterable[Mapping[str, Any]]) -> None:
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(TABLE)
        for row in rows:
            faults = " + ".join(":".join(one) for one in row["faults"]) or "none"
            for one in row["readings"]:
                words = " ".join(f"{word}:{chance:.3g}" for word, chance in one.get("words", {}).items() if chance > 0)
                numbers = [_cell(one.get(key)) for key in ("middle", "low", "high")]
                head = [faults, one["state"], one["point"], one["quantity"]]
                writer.writerow([*head, *numbers, words, f"{one['unknown']:.3g}"])


def _cell(value: object) -> str:
    return "" if value is None else f"{value:.6g}" if isinstance(value, float) else str(value)
