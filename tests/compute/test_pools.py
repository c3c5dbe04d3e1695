"""
Whoever does the chunks, the numbers are the same to the bit; a dead worker, a stop and a torn file lose nothing.

What the numbers should be is computed here by a plain loop over numpy's generator.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import chunk_work
import numpy as np
import pytest

from kilter.compute.dask_pool import DaskPool
from kilter.compute.local_pool import LocalPool
from kilter.compute.run import Finished, pool_of, run_sweep
from kilter.compute.sweep import Sweep
from kilter.measure.errors import BadInput, KilterError, NotAvailable

SEED, COUNT = 20, 12


def sweep(work: Any = chunk_work.drawn, **shared: Any) -> Sweep:
    return Sweep("test", work, {"seed": SEED, **shared}, [{"number": n} for n in range(COUNT)])


def by_hand() -> list[list[float]]:
    rows = []
    for number in range(COUNT):
        random = np.random.default_rng([SEED, number])
        rows.append([float(random.standard_normal(1000).sum()), float(np.exp(random.random()))])
    return rows


def check(finished: Finished) -> None:
    assert [list(row) for row in finished.results] == by_hand()  # no tolerance: every bit


@pytest.mark.parametrize("workers", [0, 1, 2])
def test_any_number_of_processes_gives_every_bit(tmp_path: Path, workers: int) -> None:
    finished = run_sweep(sweep(), pool_of(str(workers)), tmp_path)
    check(finished)
    assert len(finished.made_by) == 1
    assert 0 < (finished.efficiency or 0) <= 1.01


def test_a_killed_process_loses_nothing(tmp_path: Path) -> None:
    pool = LocalPool(2)
    check(run_sweep(sweep(chunk_work.dying, marks=str(tmp_path)), pool, tmp_path / "results"))
    assert pool.deaths == 1


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks at processes as Linux shows them")
def test_workers_leave_when_the_sweep_is_killed(tmp_path: Path) -> None:
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import chunk_work; from pathlib import Path\n"
        "from kilter.compute.run import pool_of, run_sweep; from kilter.compute.sweep import Sweep\n"
        "if __name__ == '__main__':\n"
        "    slow = Sweep('slow', chunk_work.slow, {'marks': sys.argv[2]}, [{'number': n} for n in range(500)])\n"
        "    run_sweep(slow, pool_of('1'), Path(sys.argv[3]))\n"
    )
    (tmp_path / "sweep.py").write_text(code, "utf-8")
    words = [str(tmp_path / "sweep.py"), str(Path(__file__).parent), str(tmp_path), str(tmp_path / "results")]
    sweeping = subprocess.Popen([sys.executable, *words])
    marks: list[Path] = []
    for _ in range(600):
        marks = list(tmp_path.glob("worker-*"))
        if marks:
            break
        time.sleep(0.05)
    sweeping.kill()
    sweeping.wait()
    worker = int(marks[0].name.removeprefix("worker-"))
    for _ in range(600):
        if not alive(worker):
            break
        time.sleep(0.05)
    assert not alive(worker)


def alive(process: int) -> bool:
    """Whether a process of that number runs."""
    try:
        return "Z" not in Path(f"/proc/{process}/stat").read_text("utf-8").rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False


def test_a_chunk_that_kills_every_worker_is_named_and_the_rest_is_kept(tmp_path: Path) -> None:
    wanted = sweep(chunk_work.dying, marks=str(tmp_path), always=True, deadly=11)
    with pytest.raises(KilterError, match="died 3 times over 000011"):
        run_sweep(wanted, LocalPool(1), tmp_path / "results")
    assert len(list((tmp_path / "results").glob("0000*.json"))) >= 10


def test_going_on_does_only_the_rest(tmp_path: Path) -> None:
    wanted, results = sweep(chunk_work.counted, marks=str(tmp_path)), tmp_path / "results"
    whole = run_sweep(wanted, LocalPool(0), results)
    (results / "000004.json").unlink()
    torn = results / "000007.json"
    torn.write_text(torn.read_text("utf-8")[:40], "utf-8")
    changed = json.loads((results / "000009.json").read_text("utf-8"))
    changed["result"][0] += 1.0
    (results / "000009.json").write_text(json.dumps(changed), "utf-8")
    again = run_sweep(wanted, LocalPool(0), results)
    check(again)
    assert (again.resumed, again.sha256) == (COUNT - 3, whole.sha256)
    times = {int(path.name): len(path.read_text("utf-8")) for path in tmp_path.glob("[0-9]*")}
    assert times == {n: 2 if n in (4, 7, 9) else 1 for n in range(COUNT)}


def test_results_of_two_sweeps_are_never_put_together(tmp_path: Path) -> None:
    run_sweep(sweep(), LocalPool(0), tmp_path)
    with pytest.raises(BadInput, match="another sweep"):
        run_sweep(sweep(other=1), LocalPool(0), tmp_path)
    head = tmp_path / "sweep.json"
    head.write_text(json.dumps({**json.loads(head.read_text("utf-8")), "program": "0"}), "utf-8")
    with pytest.raises(BadInput, match="another version"):
        run_sweep(sweep(), LocalPool(0), tmp_path)


def test_a_folder_with_other_files_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me", "utf-8")
    with pytest.raises(BadInput, match="other files"):
        run_sweep(sweep(), LocalPool(0), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


@pytest.mark.parametrize("word", ["two", "-1", "1.5", "100000", ""])
def test_words_that_name_no_workers(word: str) -> None:
    with pytest.raises(BadInput, match="Cannot tell who should do the work"):
        pool_of(word)


def test_no_cluster_at_that_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr(
        "kilter.compute.dask_pool.table", lambda _: {k: {"value": 1} for k in ("patience", "in_flight")}
    )
    with pytest.raises(NotAvailable, match="no answer"):
        run_sweep(sweep(), DaskPool("tcp://127.0.0.1:9"), tmp_path)


def test_a_cluster_gives_every_bit_though_a_worker_is_killed(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        finished = run_sweep(sweep(), pool_of(cluster.scheduler_address), tmp_path / "plain")
        check(finished)
        bare = Sweep("bare", chunk_work.numbered, {}, [{"number": n} for n in range(3)])
        assert run_sweep(bare, pool_of(cluster.scheduler_address), tmp_path / "bare").results == (0, 1, 2)
        wanted = sweep(chunk_work.dying, marks=str(tmp_path))
        check(run_sweep(wanted, pool_of(cluster.scheduler_address), tmp_path / "killed"))
    assert (tmp_path / "died").exists()
    assert finished.workers == 2
    assert finished.sha256 == run_sweep(sweep(), LocalPool(0), tmp_path / "local").sha256
