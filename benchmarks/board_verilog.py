"""
A board of chips as Verilog, with faults, run by an outside simulator: what a logic probe would show at every net.

Gates and registers of the chips come from the catalogue, as in Kilter itself. Everything that moves them does not: the
simulator, the processor (a sequence of fetches, jumps, reads and writes with its own bus timing), memories with
contents that are read and written. Ports are sought at the low addresses where these boards have them. Counters are set
before a carry now and then, because frames of a picture last too long here.
"""

# ruff: noqa: E501
# Lines of Verilog.

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from kilter.circuit.board import Board
from kilter.simulate.logic.board_netlist import logic_netlist
from kilter.simulate.logic.chip_logic import UNKNOWN, ChipLogic
from kilter.simulate.logic.defects import Bridge, Dead, Defect, NetStuck, PinOpen, PinStuck
from kilter.simulate.logic.families import family_of
from kilter.simulate.logic.live_board import LiveBoard

SEGMENT, SEGMENTS = 1600, 4
OPERATOR = {"and": "&", "nand": "&", "or": "|", "nor": "|", "xor": "^", "xnor": "^"}

PROCESSOR = """
  reg [15:0] {r}_a = 0; reg [7:0] {r}_q = 0; reg {r}_drive = 0, {r}_m = 1, {r}_i = 1, {r}_r = 1, {r}_w = 1, {r}_f = 1;
  reg {r}_rf = 1; reg [15:0] {r}_pc = 0; integer {r}_t = 0; integer {r}_kind = 0; integer {r}_seed = {seed};
  always @(posedge {clock}) if (({reset}) === 1'b0) begin {r}_t = 0; {r}_pc = 0; {r}_m = 1; {r}_i = 1; {r}_r = 1;
      {r}_w = 1; {r}_f = 1; {r}_drive = 0; {r}_a = 0; end
    else if (({going}) !== 1'b0) begin
      case ({r}_t)
        0: begin {r}_w = 1; {r}_r = 1; {r}_m = 1; {r}_i = 1; {r}_f = 1; {r}_drive = 0;
          {r}_kind = $unsigned($random({r}_seed)) % 10;
          {r}_pc = ($unsigned($random({r}_seed)) % 4 == 0) ? $random({r}_seed) : {r}_pc + 1;
          {r}_a = ({r}_kind < 5) ? {r}_pc : $random({r}_seed);
          if ({r}_kind >= 8) {r}_a = {r}_a & 16'hff3f; {r}_f = !({r}_kind < 5); {r}_q = $random({r}_seed); end
        1: begin if ({r}_kind < 8) {r}_m = 0; else {r}_i = 0;
          if ({r}_kind == 7 || {r}_kind == 9) {r}_drive = 1; else {r}_r = 0; {r}_rf = 0; end
        2: begin if ({r}_drive) {r}_w = 0; {r}_rf = 1; end
      endcase
      {r}_t = ({r}_t == 2) ? 0 : {r}_t + 1; end
"""
SOURCES = {
    "/MREQ": "{r}_m", "/IORQ": "{r}_i", "/RD": "{r}_r", "/WR": "{r}_w", "/M1": "{r}_f | {r}_m",
    "/RFSH": "{r}_rf | ~{r}_f", "RW": "~{r}_drive", "SYNC": "~{r}_f", "/HALT": "1'b1", "/BUSACK": "1'b1",
    "PHI2": "{clock}", "PHI1": "~{clock}",
}  # fmt: skip


class BoardVerilog:
    """
    The text of a board under defects.

    Args:
        board: As loaded.
        live: For its clocks and resets.
        seed: Of power-up, program and contents.
    """

    def __init__(self, board: Board, live: LiveBoard, defects: Sequence[Defect], seed: int) -> None:
        inputs = (*live.stimulus.clocks, *live.stimulus.resets)
        self.live, self.board, self.seed = live, board, seed
        self.netlist = logic_netlist(board, inputs=inputs, maker=ChipLogic)
        self.random, self.defects = np.random.default_rng(seed), list(defects)
        self.names: dict[str, str] = {}
        self.lines: list[str] = []
        self.counted: list[str] = []
        self.bridged = {net: one for one in self.defects if isinstance(one, Bridge) for net in (one.first, one.second)}

    def name(self, net: str) -> str:
        return self.names.setdefault(net, f"n{len(self.names)}")

    def driven(self, net: str) -> str:
        return self.name(net) + ("_raw" if net in self.bridged else "")

    def read(self, net: str, part: str, pin: str) -> str:
        for one in self.defects:
            if isinstance(one, PinStuck) and (one.part, one.pin) == (part, pin) and pin:
                return f"1'b{one.value}"
            if isinstance(one, PinOpen) and (one.part, one.pin) == (part, pin) and pin:
                return f"1'b{family_of(self.netlist.chips, part).open_input.lower()}"
        opens = family_of(self.netlist.chips, part).open_input.lower()
        return f"(({self.name(net)} === 1'bz) ? 1'b{opens} : {self.name(net)})"

    def drive(self, net: str, part: str, pin: str, value: str) -> None:
        if pin:
            for one in self.defects:
                if isinstance(one, Dead) and one.part == part:
                    value = f"1'b{one.outputs.lower()}"
                if isinstance(one, PinOpen) and one.part == part:
                    chip = self.netlist.chips.get(part)
                    if one.pin == pin or (chip and one.pin in (*chip.supply, *chip.ground)):
                        value = "1'bz"
                if isinstance(one, PinStuck) and (one.part, one.pin) == (part, pin):
                    self.lines.append(f"  assign (supply0, supply1) {self.driven(net)} = 1'b{one.value};")
        self.lines.append(f"  assign {self.driven(net)} = {value};")

    def text(self) -> str:
        """The whole test bench."""
        for gate in self.netlist.gates:
            if UNKNOWN not in gate.inputs:
                self._gate(gate)
        for number, register in enumerate(self.netlist.registers):
            if register.data != UNKNOWN:
                self._register(number, register)
        for ref, kind in self.live.types.items():
            if kind is not None and kind.function == "processor":
                self._processor(ref)
            elif kind is not None and kind.organisation and kind.drives:
                self._memory(ref)
        for one in self.defects:
            if isinstance(one, NetStuck) and one.value in "01":
                self.lines.append(f"  assign (supply0, supply1) {self.driven(one.net)} = 1'b{one.value};")
        return self._bench()

    def _gate(self, gate) -> None:  # type: ignore[no-untyped-def]
        seen = [self.read(net, gate.part, gate.pin(place)) for place, net in enumerate(gate.inputs)]
        if gate.kind in OPERATOR:
            value = "(" + OPERATOR[gate.kind].join(seen) + ")"
        elif gate.kind in ("zero", "one"):
            value = f"1'b{int(gate.kind == 'one')}"
        elif gate.kind in ("tri", "tri_low"):
            on = seen[1] if gate.kind == "tri" else f"~{seen[1]}"
            value = f"({on}) ? {seen[0]} : 1'bz"
        else:
            value = f"{seen[0]} ? 1'bz : 1'b0" if gate.kind == "open_collector" else seen[0]
        self.drive(
            gate.output,
            gate.part,
            gate.output_pin,
            "~" + value if gate.kind[0] == "n" or gate.kind == "xnor" else value,
        )

    def _register(self, number: int, one) -> None:  # type: ignore[no-untyped-def]
        state = f"r{number}"
        seen = {role: self.read(net, one.part, one.pins.get(role, "")) for role, net in one.reads().items()}
        self.lines.append(f"  reg {state} = {int(self.random.integers(2))};")
        clear, preset = (f"({seen[role]}) === 1'b0" if role in seen else "1'b0" for role in ("clear", "preset"))
        clock = f"~({seen['clock']})" if one.falling else seen["clock"]
        self.lines.append(f"  wire {state}_c = {clock}; wire {state}_lo = {clear}; wire {state}_hi = {preset};")
        delayed = f"  wire #0.1 {state}_d = {seen['data']};"
        if one.kind == "latch":
            self.lines.append(
                f"{delayed}\n  always @* if ({state}_lo) {state} = 0; else if ({state}_hi) {state} = 1;"
                f" else if ({state}_c === 1'b1) {state} = {state}_d;"
            )
        else:
            self.lines.append(
                f"{delayed}\n  always @(posedge {state}_c or posedge {state}_lo or posedge {state}_hi)"
                f" if ({state}_lo) {state} <= 0; else if ({state}_hi) {state} <= 1;"
                f" else {state} <= ({state}_d === 1'bx) ? $random : {state}_d;"
            )
        if one.part in self.live.counting and one.kind == "dff":
            self.counted.append(state)
        for role, net in one.drives().items():
            self.drive(net, one.part, one.pins.get(role, ""), state if role == "output" else f"~{state}")

    def _pins(self, ref: str, role: str) -> list[tuple[str, str, str]]:
        """(pin name, net, number) of the pins of a role."""
        part, kind = self.board.parts[ref], self.live.types[ref]
        assert kind is not None
        return [(p.name, self.live.net(part.pins[p.number]), p.number)
                for p in kind.with_role(role) if p.number in part.pins]  # fmt: skip

    def _processor(self, ref: str) -> None:
        def reads(role: str) -> list[str]:
            return [self.read(net, ref, pin) for _, net, pin in self._pins(ref, role)]

        clock = f"{ref}_clock"
        self.lines.append(f"  wire {clock} = {reads('clock')[0]};")
        going = " & ".join(reads("ready")) or "1'b1"
        words = {"r": ref, "clock": clock, "reset": reads("reset")[0], "going": going, "seed": self.seed + 77}
        self.lines.append(PROCESSOR.format(**words))
        for place, (_, net, pin) in enumerate(self._pins(ref, "address_out")):
            self.drive(net, ref, pin, f"{ref}_a[{place}]")
        for place, (_, net, pin) in enumerate(self._pins(ref, "data")):
            self.drive(net, ref, pin, f"{ref}_drive ? {ref}_q[{place}] : 1'bz")
        for role in ("strobe_out", "clock_out"):
            for name, net, pin in self._pins(ref, role):
                self.drive(net, ref, pin, SOURCES[name].format(**words))

    def _memory(self, ref: str) -> None:
        kind = self.live.types[ref]
        assert kind is not None
        address = [self.read(net, ref, pin) for _, net, pin in self._pins(ref, "address")]
        strobes = {name: self.read(net, ref, pin) for role in ("enable", "strobe") for name, net, pin in self._pins(ref, role)}  # fmt: skip
        data = self._pins(ref, "data") or self._pins(ref, "data_out")
        selected = " & ".join(
            f"~{v}" if n.startswith("/") else v for n, v in strobes.items() if n not in ("/OE", "/WE")
        )
        read = " & ".join([selected, *(f"~{strobes[n]}" for n in ("/OE",) if n in strobes), *(strobes[n] for n in ("/WE",) if n in strobes)])  # fmt: skip
        size = 1 << len(address)
        self.lines.append(f"  reg [7:0] {ref}_m [0:{size - 1}]; integer {ref}_n; integer {ref}_s = {self.seed + 5};")
        self.lines.append(
            f"  initial for ({ref}_n = 0; {ref}_n < {size}; {ref}_n = {ref}_n + 1) {ref}_m[{ref}_n] = $random({ref}_s);"
        )
        self.lines.append(f"  wire [{len(address) - 1}:0] {ref}_a = {{{', '.join(reversed(address))}}};")
        self.lines.append(f"  wire [7:0] {ref}_q = {ref}_m[{ref}_a];")
        for place, (_, net, pin) in enumerate(data):
            self.drive(net, ref, pin, f"({read}) ? {ref}_q[{place}] : 1'bz")
        if "/WE" in strobes:
            bits = ", ".join(reversed([self.read(net, ref, pin) for _, net, pin in data]))
            self.lines.append(f"  wire [7:0] {ref}_in = {{{bits}}}; wire {ref}_we = {selected} & ~{strobes['/WE']};")
            self.lines.append(f"  always @(negedge {ref}_we) {ref}_m[{ref}_a] <= {ref}_in;")

    def _bench(self) -> str:
        nets = sorted(self.live.known_nets)
        for net in (*nets, *self.netlist.nets):
            self.name(net)
        declared = [f"  wire {name};" for name in self.names.values()]
        declared += [f"  wire {self.name(net)}_raw;" for net in self.bridged]
        for one in {id(one): one for one in self.bridged.values()}.values():
            a, b = self.name(one.first) + "_raw", self.name(one.second) + "_raw"
            joined = f"({a} === 1'bz) ? {b} : ({b} === 1'bz) ? {a} : {a} & {b}"
            declared += [f"  assign #0.1 {self.name(net)} = {joined};" for net in (one.first, one.second)]
        for net, level in self.live.netlist.pulls.items():
            if net in self.names:
                declared.append(f"  {'pullup' if level == '1' else 'pulldown'}({self.driven(net)});")
        clocks = [self.driven(net) for net in self.live.stimulus.clocks]
        given = [f"  assign {name} = clk;" for name in clocks]
        given += [f"  assign {self.driven(net)} = reset ? 1'b{level} : 1'b{1 - level};"
                  for net, level in self.live.stimulus.resets.items()]  # fmt: skip
        places = " ".join(self.name(net) + "," for net in nets)[:-1].replace(" ", "")
        ones = " ".join(f"{state} = 1;" for state in self.counted)
        some = " ".join(f"{state} = $random(seed);" for state in self.counted)
        return f"""`timescale 1ns/100ps
module bench;
  reg clk = 0, reset = 1; integer step, segment, seed = {self.seed}, place;
{chr(10).join(declared + given + self.lines)}
  wire [{len(nets) - 1}:0] all = {{{places}}};
  reg [{len(nets) - 1}:0] low, high, off, odd;
  initial begin
    for (step = 0; step < 60; step = step + 1) begin #5 clk = ~clk; end
    reset = 0;
    for (step = 0; step < 1200; step = step + 1) begin #5 clk = ~clk; end
    for (segment = 0; segment < {SEGMENTS}; segment = segment + 1) begin
      if (segment % 2) begin {ones} end else begin {some} end
      low = 0; high = 0; off = 0; odd = 0;
      #4;
      for (step = 0; step < {SEGMENT}; step = step + 1) begin
        for (place = 0; place < {len(nets)}; place = place + 1)
          case (all[place]) 1'b0: low[place] = 1; 1'b1: high[place] = 1; 1'bz: off[place] = 1; default: odd[place] = 1;
          endcase
        #1 clk = ~clk; #4;
      end
      $display("%b %b %b %b", low, high, off, odd);
    end
    $finish;
  end
endmodule
"""


def probe(board: Board, live: LiveBoard, defects: Sequence[Defect], seed: int) -> dict[str, str]:
    """The word a logic probe shows at every net of the board under defects."""
    text = BoardVerilog(board, live, defects, seed).text()
    with tempfile.TemporaryDirectory() as folder:
        source, made = Path(folder) / "board.v", Path(folder) / "board.vvp"
        source.write_text(text, "utf-8")
        subprocess.run(["iverilog", "-g2012", "-o", made, source], check=True, capture_output=True, text=True)
        lines = subprocess.run(["vvp", "-n", made], check=True, capture_output=True, text=True, timeout=20).stdout
    rows = np.array([[[int(bit) for bit in word] for word in line.split()] for line in lines.splitlines() if line[:1] in "01"])  # fmt: skip
    random = np.random.default_rng(seed)
    return {net: _word(rows[:, :, place].astype(bool), random) for place, net in enumerate(sorted(live.known_nets))}


def _word(seen: np.ndarray, random: np.random.Generator) -> str:
    """One word from the segments: rows of (low, high, off, odd)."""
    if (seen[:, 0] & seen[:, 1]).any():
        return "pulsing"
    low, high, off, odd = seen[-1]
    if odd:
        return "between"
    if off and (low or high):
        return str(random.choice(["floating", "low" if low else "high"]))
    return "low" if low else "high" if high else "floating"
