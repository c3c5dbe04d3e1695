"""
Make authorities/logic: random gate netlists in Verilog and what Icarus Verilog says that every net does.

Run from the repository root, with iverilog and vvp on the path: python builders/build_logic_authority.py
Each design is a .v file of gate primitives; beside it a .txt with the simulator's version, the net names and one
line for each step: input values, then the values of all nets. faults-c432.txt holds stuck nets of c432 by `force`.
"""

from __future__ import annotations

import random
import subprocess
import tempfile
from pathlib import Path

from kilter.importers.bench import read_bench_file

HERE = Path("authorities/logic")
STEPS = 120
FLIP_FLOP = """module dff (output reg q, input d, input clk, input clr);
  always @(posedge clk or negedge clr) if (!clr) q <= 0; else q <= d;
endmodule
"""
LATCH = """module latch (output reg q, input d, input en);
  always @* if (en) q = d;
endmodule
"""


def gates(rng: random.Random, nets: list[str], count: int) -> list[str]:
    """Random gates; each drives a new net, which later ones may read."""
    lines = []
    for number in range(count):
        kind = rng.choice(["and", "nand", "or", "nor", "xor", "xnor", "not", "buf"])
        inputs = rng.sample(nets, 1 if kind in ("not", "buf") else rng.choice([2, 2, 3]))
        lines.append(f"{kind} g{number} (n{number}, {', '.join(inputs)});")
        nets.append(f"n{number}")
    return lines


def bus_design(seed: int) -> tuple[list[str], list[str]]:
    """Gates, a bus with three drivers enabled by inputs, gates that read the bus."""
    rng = random.Random(seed)
    inputs = [f"i{k}" for k in range(6)] + ["e0", "e1", "e2"]
    nets = list(inputs)
    lines = gates(rng, nets, 12)
    kinds = ["bufif1", "bufif0", "bufif1"]
    lines += [f"{kinds[k]} t{k} (bus, {rng.choice(nets[9:])}, e{k});" for k in range(3)]
    lines += [f"nand r{k} (m{k}, bus, {rng.choice(nets)});" for k in range(4)]
    return inputs, [*lines, "xor r4 (m4, bus, m0);"]


def clocked_design(seed: int) -> tuple[list[str], list[str]]:
    """Gates between flip-flops on one clock, a ripple counter and a transparent latch."""
    rng = random.Random(seed)
    inputs = ["clk", "clr", "en", "i0", "i1", "i2"]
    state = [f"q{k}" for k in range(5)]
    nets = ["i0", "i1", "i2", *state]
    lines = gates(rng, nets, 15)
    lines += [f"dff f{k} (q{k}, {rng.choice(nets[8:])}, clk, clr);" for k in range(5)]
    for stage, clock in enumerate(["clk", "c0", "c1"]):
        lines += [f"not v{stage} (c{stage}, r{stage});", f"dff r{stage}_ (r{stage}, c{stage}, {clock}, clr);"]
    return inputs, [*lines, "latch l0 (w, n3, en);"]


def loop_design(seed: int) -> tuple[list[str], list[str]]:
    """A set-reset latch of two crossed gates, with gates before and behind it."""
    rng = random.Random(seed)
    inputs = ["s", "r", "i0", "i1"]
    nets = ["q", "p", "i0", "i1"]
    lines = ["nand a (q, s, p);", "nand b (p, r, q);"]
    return inputs, lines + gates(rng, nets, 6)


def step_values(kind: str, rng: random.Random, inputs: list[str], step: int) -> str:
    """Input values of one step: data moves while the clock is low, the latch is never set and reset at once."""
    bits = {net: rng.choice("01") for net in inputs}
    if kind == "clocked":
        bits |= {"clk": str(step % 2), "clr": str(int(step > 2))}
    if kind == "loop":
        wanted = rng.choice(["10", "01", "11", "11"])
        bits |= {"s": wanted[0], "r": wanted[1]}
    return "".join(bits[net] for net in inputs)


def stimulus(kind: str, seed: int, inputs: list[str]) -> list[str]:
    """Values of all steps; on the rising edge and when the loop is written only one thing moves."""
    rng = random.Random(seed)
    steps: list[str] = []
    for step in range(STEPS):
        bits = step_values(kind, rng, inputs, step)
        if kind == "clocked" and step % 2:
            bits = bits[0] + steps[-1][1:]
        steps.append(bits)
    return steps


def run(source: str) -> str:
    """Output of the simulator for one Verilog text."""
    with tempfile.TemporaryDirectory() as folder:
        file, program = Path(folder) / "bench.v", Path(folder) / "bench.vvp"
        file.write_text(source)
        subprocess.run(["iverilog", "-g2005", "-o", program, file], check=True)
        return subprocess.run(["vvp", "-n", program], check=True, capture_output=True, text=True).stdout


def build(kind: str, seed: int, inputs: list[str], lines: list[str]) -> None:
    """Write one design and its result."""
    outputs = dict.fromkeys(line.split("(")[1].split(",")[0] for line in lines)
    nets = [*inputs, *outputs]
    design = f"module board ({', '.join(nets)});\n  input {', '.join(inputs)};\n  output {', '.join(outputs)};\n"
    design += "".join(f"  {line}\n" for line in lines) + "endmodule\n"
    head = f"module bench; reg {', '.join(inputs)}; wire {', '.join(outputs)};\n  board d ({', '.join(nets)});\n"
    show = f'$display("%b %b", {{{", ".join(inputs)}}}, {{{", ".join(nets)}}});'
    steps = "".join(
        f"    {{{', '.join(inputs)}}} = {len(inputs)}'b{bits}; #10 {show}\n" for bits in stimulus(kind, seed, inputs)
    )
    result = run(FLIP_FLOP + LATCH + design + head + "  initial begin\n" + steps + "  end\nendmodule\n")
    (HERE / f"{kind}-{seed}.v").write_text(design)
    (HERE / f"{kind}-{seed}.txt").write_text(f"# {version()}\n# {' '.join(nets)}\n{result}")


def version() -> str:
    """First line of what the simulator says of itself."""
    said = subprocess.run(["iverilog", "-V"], check=True, capture_output=True, text=True).stdout
    return said.splitlines()[0]


def build_stuck(vectors: int = 64) -> None:
    """Every net of c432 forced to 0 and to 1: outputs under each vector, as one row of bits a fault."""
    logic = read_bench_file(Path("tests/data/iscas85/c432.bench"))
    rng = random.Random(432)
    rows = ["".join(rng.choice("01") for _ in logic.inputs) for _ in range(vectors)]
    body = "".join(
        f"  {gate.kind} g{k} ({gate.output}, {', '.join(gate.inputs)});\n" for k, gate in enumerate(logic.gates)
    )
    wires = ", ".join(gate.output for gate in logic.gates)
    inputs = ", ".join(logic.inputs)
    tells = "".join(f"    {{{inputs}}} = {len(logic.inputs)}'b{row}; #1 "
                    f'$write("%b", {{{", ".join(logic.outputs)}}});\n' for row in rows)  # fmt: skip
    head = f"module bench; reg {inputs}; wire {wires};\n{body}  task all; begin\n{tells}    end endtask\n"
    runs = "".join(
        f'    $write("{net} {value} "); force {net} = 1\'b{value}; #1 all; $display(""); release {net}; #1;\n'
        for net in logic.nets
        for value in (0, 1)
    )
    result = run(head + '  initial begin\n    $write("good - "); all; $display("");\n' + runs + "  end\nendmodule\n")
    text = f"# {version()}\n# {' '.join(rows)}\n{result}"
    (HERE / "faults-c432.txt").write_text(text)


if __name__ == "__main__":
    HERE.mkdir(parents=True, exist_ok=True)
    for number in range(3):
        build("bus", number, *bus_design(number))
        build("clocked", number, *clocked_design(number))
        build("loop", number, *loop_design(number))
    build_stuck()
