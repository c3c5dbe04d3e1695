"""The .bench reader against the numbers that the circuits' own headers print, and against lines it must refuse."""

import pytest
from circuits import WITH_HEADER, circuit, header

from kilter.importers.bench import read_bench, read_bench_file
from kilter.measure.errors import BadInput
from kilter.simulate.logic.faults import STEM, lines


@pytest.mark.parametrize("name", WITH_HEADER)
def test_lines_are_those_the_header_counts(name):
    logic = circuit(name)
    found = lines(logic)
    assert len(found) == header(name, "total number of lines in the netlist")
    assert len(logic.inputs) == header(name, "lines from primary input")
    assert len(logic.outputs) == header(name, "lines from primary output")
    assert len([line for line in found if line.gate != STEM]) == header(name, "fanout stems ...")


def test_flip_flop_becomes_a_register():
    logic = read_bench("INPUT(a)\nOUTPUT(q)\nq = DFF(d)\nd = XOR(a, q)")
    assert (logic.registers[0].data, logic.registers[0].output) == ("d", "q")
    assert logic.combinational().inputs == ("a", "q")


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("INPUT(a)\nOUTPUT(y)\ny = NOT(a)i", 3, "NOT(a)i"),
        ("INPUT(a)\nOUTPUT(y)\ny = MAJ(a, a)", 3, "MAJ"),
        ("INPUT(a)\nOUTPUT(y)\ny = NOT(a, a)", 3, "2 inputs"),
        ("INPUT(a)\nOUTPUT(y)\ny = AND(a, b)", 3, "net 'b'"),
        ("INPUT(a)\nOUTPUT(y)\ny = AND(a,)", 3, "(a,)"[1:3]),
        ("INPUT(a)\nINPUT(a)", 2, "second driver"),
        ("INPUT(a)\nOUTPUT(y)\ny = NOT(a)\ny = BUFF(a)", 4, "line 3"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_line(text, line, word):
    with pytest.raises(BadInput) as caught:
        read_bench(text)
    assert f"line {line} " in str(caught.value)
    assert word in str(caught.value)


def test_an_output_named_twice_is_refused():
    with pytest.raises(BadInput, match="named twice"):
        read_bench("INPUT(a)\nOUTPUT(y)\nOUTPUT(y)\ny = NOT(a)")


def test_a_missing_file_and_a_file_of_bytes_are_bad_input(tmp_path):
    with pytest.raises(BadInput, match=r"nothing\.bench"):
        read_bench_file(tmp_path / "nothing.bench")
    (tmp_path / "bytes.bench").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match=r"bytes\.bench"):
        read_bench_file(tmp_path / "bytes.bench")
