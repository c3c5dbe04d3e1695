"""
Gate-level logic: what chips of gates do when they are well, and when something is stuck, open, bridged or dead.

Two engines. Two-valued (`levelled`, `StuckAtSweep`, `minimal_diagnoses`): combinational logic, very fast, stuck
lines only. Four-valued (`trace`): buses, registers, loops and every defect in `defects`, slower.
"""

from kilter.simulate.logic.defects import defect, modes
from kilter.simulate.logic.diagnose_exact import minimal_diagnoses
from kilter.simulate.logic.fault_simulate import StuckAtSweep
from kilter.simulate.logic.four_value import trace
from kilter.simulate.logic.levels import levelled
from kilter.simulate.logic.netlist import Chip, Gate, LogicNetlist, Register
from kilter.simulate.logic.simulate import truth

__all__ = [
    "Chip",
    "Gate",
    "LogicNetlist",
    "Register",
    "StuckAtSweep",
    "defect",
    "levelled",
    "minimal_diagnoses",
    "modes",
    "trace",
    "truth",
]
