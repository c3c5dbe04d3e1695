"""The base install has no numba: the logic engine must neither load it nor need it."""

import subprocess
import sys

CODE = """
import sys
{before}
from kilter.importers.bench import read_bench
from kilter.simulate.logic import StuckAtSweep, levelled
from kilter.simulate.logic.faults import every_fault
from kilter.simulate.logic.lanes import all_vectors
assert "numba" not in sys.modules or sys.modules["numba"] is None
logic = read_bench("INPUT(a)\\nINPUT(b)\\nOUTPUT(y)\\ny = AND(a, b)")
found = StuckAtSweep(levelled(logic), every_fault(logic), engine={engine!r}).run(all_vectors(2))
print(found.detections.tolist(), "numba" in sys.modules and sys.modules["numba"] is not None)
"""


def run(before, engine):
    code = CODE.format(before=before, engine=engine)
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


def test_importing_and_the_plain_engine_load_no_numba():
    assert run("", "plain") == "[1, 1, 1, 1, 1, 3] False"


def test_automatic_choice_answers_where_numba_is_absent():
    blocked = (
        "import importlib.util as u\n"
        "find = u.find_spec\n"
        "u.find_spec = lambda name, *rest: None if name == 'numba' else find(name, *rest)\n"
        "sys.modules['numba'] = None"
    )
    assert run(blocked, "auto") == "[1, 1, 1, 1, 1, 3] False"
