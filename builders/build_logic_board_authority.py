"""
What an outside Verilog simulator says that a logic probe would show on the two boards of chips, healthy and faulty.

    python builders/build_logic_board_authority.py

Writes authorities/logic_boards/NAME.json: the command's version, and for each run its fault, its seed and the word at
every net. Needs iverilog. How the board becomes Verilog: benchmarks/board_verilog.py.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "benchmarks"))

from board_verilog import probe  # noqa: E402
from kilter.importers.load import load_board  # noqa: E402
from kilter.simulate.logic.live_board import live_board  # noqa: E402
from logic_closed_loop import DATA, draw  # noqa: E402

HEALTHY, FAULTY = 4, 16

if __name__ == "__main__":
    shown = subprocess.run(["iverilog", "-V"], check=True, capture_output=True, text=True).stdout.splitlines()[0]
    for source in sorted(DATA.glob("*.net")):
        board = load_board(source)
        live = live_board(board)
        assert live is not None
        random = np.random.default_rng(2)
        runs = [{"fault": None, "seed": seed, "words": probe(board, live, (), seed)} for seed in range(HEALTHY)]
        while len(runs) < HEALTHY + FAULTY:
            fault, defects = draw(board, live, random)
            try:
                words = probe(board, live, defects, len(runs))
            except subprocess.TimeoutExpired:
                continue
            runs.append({"fault": list(fault), "seed": len(runs), "words": words})
        target = ROOT / "authorities" / "logic_boards" / f"{source.stem}.json"
        target.write_text(json.dumps({"simulator": shown, "runs": runs}, indent=0), "utf-8")
        print(target.name, shown)
