"""ngspice, the reference and the fallback of the circuit predictor: its shared library in a worker process."""

from kilter.simulate.ngspice.checked import net_voltages
from kilter.simulate.ngspice.library import NotSettled
from kilter.simulate.ngspice.netlist_text import spice_text
from kilter.simulate.ngspice.worker import NgspiceWorker

__all__ = ["NgspiceWorker", "NotSettled", "net_voltages", "spice_text"]
