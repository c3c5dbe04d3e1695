"""
Evidence by eye through the whole service: a look moves the odds of a mode by P(sign | mode) / P(sign | healthy).

Source: Bayes' rule in odds form, with the chances taken straight from the data file. A faulty part shows a sign of its
mode or, where it shows none, those of a healthy old part: P(s | mode) = own(s) + (1 - sum of own) healthy(s).
"""

import tomllib
from importlib.resources import files
from itertools import product

import pytest

from kilter.diagnose.enumerate import Limits
from kilter.importers.load import load_board, load_readings
from kilter.measure.instruments import instrument
from kilter.services.diagnose import Diagnoser

KINDS = tomllib.loads(files("kilter.data").joinpath("part_kinds.toml").read_text("utf-8"))
SIGNS = tomllib.loads(files("kilter.data").joinpath("quantities.toml").read_text("utf-8"))["look"]["categories"]
PARTS = {"C1": "electrolytic", "C2": "tantalum", "R1": "composition"}
BOARD = "\n".join(["kilter = 1", 'board = "three parts"', *(f'[parts.{r}]\nkind = "{k}"' for r, k in PARTS.items())])


def diagnosed(folder, *looks, **choices):
    (folder / "board.toml").write_text(BOARD)
    (folder / "read.csv").write_text("\n".join(["point,quantity,value", *(f"{ref},look,{s}" for ref, s in looks)]))
    board = load_board(folder / "board.toml")
    found = Diagnoser(board, limits=Limits(max_faults=3), outside=0.0, **choices).diagnose(
        load_readings(folder / "read.csv", board)
    )
    assert found.posterior.visited_mass == 1.0
    return found.posterior


def odds(posterior, ref):
    """Each mode of a part against 'healthy'."""
    healthy = 1.0 - posterior.parts()[ref]
    return {mode: share / healthy for (part, mode), share in posterior.modes().items() if part == ref}


def chance(sign, kind, mode=None):
    healthy = dict(kind["signs"])
    healthy["clean"] = 1.0 - sum(healthy.values())
    own = mode.get("signs", {}) if mode else {}
    return own.get(sign, 0.0) + (1.0 - sum(own.values())) * healthy.get(sign, 0.0)


def possible(ref, sign, gross):
    """Without gross errors a sign that no healthy part shows would make the odds infinite."""
    return gross is None or chance(sign, KINDS[PARTS[ref]]) > 0.0


CASES = [case for case in product(PARTS, SIGNS, (0.0, None)) if possible(*case)]


@pytest.mark.parametrize(("ref", "sign", "gross"), CASES)
def test_a_look_moves_the_odds_by_the_ratio_of_its_chances(tmp_path, ref, sign, gross):
    kind = KINDS[PARTS[ref]]
    share = instrument("eye").outlier_share if gross is None else gross

    def seen(mode=None):
        return (1.0 - share) * chance(sign, kind, mode) + share / len(SIGNS)

    before, after = (odds(diagnosed(tmp_path, *looks, gross=gross), ref) for looks in ((), ((ref, sign),)))
    assert len(before) == len(kind["modes"])
    for mode in kind["modes"]:
        prior = kind["odds"] * mode["share"] / (1.0 - kind["odds"])
        assert before[mode["key"]] == pytest.approx(prior, rel=1e-9)
        assert after[mode["key"]] == pytest.approx(prior * seen(mode) / seen(), rel=1e-9)


def test_a_look_at_one_part_leaves_the_others_alone(tmp_path):
    before, after = diagnosed(tmp_path), diagnosed(tmp_path, ("C1", "bulged"))
    for ref in ("C2", "R1"):
        assert odds(after, ref) == pytest.approx(odds(before, ref), rel=1e-9)


def test_looks_at_two_parts_multiply(tmp_path):
    alone = {ref: diagnosed(tmp_path, (ref, "burnt")) for ref in ("C2", "R1")}
    both = diagnosed(tmp_path, ("C2", "burnt"), ("R1", "burnt"))
    for ref, one in alone.items():
        assert odds(both, ref) == pytest.approx(odds(one, ref), rel=1e-9)


def test_a_bulge_speaks_for_the_mode_that_makes_it(tmp_path):
    """A shorted or leaking electrolytic bulges more often than an open one: common practice, no source."""
    before, after = odds(diagnosed(tmp_path), "C1"), odds(diagnosed(tmp_path, ("C1", "bulged")), "C1")
    gained = {mode: after[mode] / before[mode] for mode in before}
    assert gained["short"] > gained["open"]
    assert gained["leak"] > gained["open"]
