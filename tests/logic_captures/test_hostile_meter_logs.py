"""
Damaged, cut, empty and hostile meter logs: a log with figures or a message in four parts, never anything else, soon.

Also of whatever else might be brought: its kind is told, whatever its bytes are.
"""

from __future__ import annotations

import contextlib
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from test_meter_logs import SHAPES

from kilter.importers.brought_kinds import kind_of
from kilter.importers.meter_log import read_meter_logs
from kilter.measure.errors import BadInput
from kilter.signals.log_span import moves, span_of, steady_from
from kilter.signals.meter_log import steadiness
from kilter.store.models.attachment import KINDS
from kilter.web.log_drawing import draw_log

EXAMPLES = [text.encode() for text in SHAPES.values()]
QUICK = settings(max_examples=150, deadline=5000, suppress_health_check=[HealthCheck.function_scoped_fixture])
SIGNS = "0123456789,;.:\t\n -+eEVmkOLNaninfµΩTZ/\"#|"


def attempt(path: Path) -> None:
    """Everything that a page does with a log; warnings of the number library are errors in these tests."""
    assert kind_of(path) in KINDS
    try:
        logs = read_meter_logs(path)
    except BadInput as error:
        assert all((error.doing, error.found, error.allowed, error.do_next))  # noqa: PT017
        return
    assert logs
    for log in logs:
        assert log.seconds.shape == log.values.shape
        assert (np.diff(log.seconds) >= 0).all()
        assert not np.isnan(log.values).any()
        assert steadiness(log).entries + steadiness(log).over_limit == len(log.values)
        assert moves(log) in (True, False, None)
        steady_from(log)
        with contextlib.suppress(BadInput):
            span_of(log, 1.0, 2.0)
        assert "nan" not in "".join(draw_log(log, None, 1.0).lines)


@QUICK
@given(st.integers(0, len(EXAMPLES) - 1), st.data())
def test_damaged_logs(tmp_path: Path, which: int, data: st.DataObject) -> None:
    damaged = bytearray(EXAMPLES[which])
    for _ in range(data.draw(st.integers(1, 6))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(damaged)))
    path = tmp_path / "damaged"
    path.write_bytes(bytes(damaged[:cut] if data.draw(st.booleans()) else damaged))
    attempt(path)


@QUICK
@given(st.one_of(st.binary(max_size=300), st.text(alphabet=SIGNS, max_size=300).map(str.encode)))
@example(b"time (s),V\n0,1e308\n1,-1e308\n2,1e308\n")
@example(b"time (s),V\n0,9.9E37\n1,9.91E37\n")
@example(b"time (s),V\n1e300,1\n-1e300,2\n")
@example(b"Time,V\n9999-12-31T23:59:59,1\n0001-01-01T00:00:00,2\n")
def test_any_bytes_at_all(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "any"
    path.write_bytes(content)
    attempt(path)


@QUICK
@given(st.lists(st.tuples(st.text(alphabet=SIGNS.replace("\n", ""), max_size=12),
                          st.text(alphabet=SIGNS.replace("\n", ""), max_size=12)), max_size=30))
def test_any_cells(tmp_path: Path, rows: list[tuple[str, str]]) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("time (s),voltage (V)\n" + "".join(f"{one},{other}\n" for one, other in rows))
    attempt(path)


@pytest.mark.parametrize("content", [
    b"", b"\n" * 1000, b"no numbers here\n" * 500, b"\x00" * 100_000, b"1" * 3_000_000,
    b"\x89PNG\r\n\x1a\n" + bytes(2000), b"<xml>&a;</xml>", b'"' * 100_000, b"time,V\n" + b"9" * 5_000_000,
], ids=range(9))  # fmt: skip
def test_hopeless_logs_are_refused_in_four_parts(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "hopeless.csv"
    path.write_bytes(content)
    start = time.process_time()
    with pytest.raises(BadInput) as caught:
        read_meter_logs(path)
    assert time.process_time() - start < 60
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))
