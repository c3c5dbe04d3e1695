"""
Forecasts of needed parts against closed forms: a Poisson number of visits, each with binomially many faulty parts.

With visits N of mean L, m parts a visit and odds p: E[X|p] = L m p and Var[X|p] = L m p (1 - p) + L m^2 p^2 (variance
of a compound Poisson sum); over p from a beta distribution the law of total variance adds L^2 m^2 Var p. Derived here
by hand; scipy gives the beta distribution's moments.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from kilter.cli.main import run
from kilter.diagnose.learned_odds import Weighted, learned
from kilter.diagnose.learned_odds_counts import Count
from kilter.importers.network_file import read_network
from kilter.measure.errors import BadInput
from kilter.services.forecast_network import Holding, Member, enough, futures, needs_of, plain_member, shapes

scipy_stats = pytest.importorskip("scipy.stats")

DEMO = Path(__file__).parents[2] / "src" / "kilter" / "data" / "demo"
YEARS, FUTURES, SHARE = 4.0, 20_000, 0.9
PARTS, COUNT, ARRIVALS = 6, 10, 0.5
COUNTS = (Weighted(Count("electrolytic", "", 200, {"leak": 30}, 20)),)


def drawn(members: list[Member], seed: int = 3) -> dict[str, Any]:
    shared = {"shapes": shapes(members, COUNTS), "years": YEARS, "scenarios": FUTURES, "enough": SHARE, "seed": seed}
    return futures(shared, [plain_member(n, one) for n, one in enumerate(members)])


def member(name: str, count: int = COUNT, **parts: int) -> Member:
    return Member(name, (Holding(parts or {"electrolytic": PARTS}, count, "", ARRIVALS),))


def closed_form(visits: float) -> tuple[float, float]:
    """Mean and variance of the pieces needed."""
    p = scipy_stats.beta(*learned("electrolytic", COUNTS).shape)
    mean_p2 = p.var() + p.mean() ** 2
    within = visits * PARTS * (p.mean() - mean_p2) + visits * PARTS**2 * mean_p2
    return visits * PARTS * p.mean(), within + (visits * PARTS) ** 2 * p.var()


def test_one_collection_needs_what_the_closed_form_says() -> None:
    needed = np.array(drawn([member("a")])["together"]["electrolytic"])
    mean, variance = closed_form(COUNT * ARRIVALS * YEARS)
    assert needed.mean() == pytest.approx(mean, abs=4 * (variance / FUTURES) ** 0.5)
    assert needed.var() == pytest.approx(variance, rel=0.06)  # over four standard errors: skewed, 20,000 futures


def test_what_nobody_knows_about_a_kind_does_not_average_out() -> None:
    """Thirty collections: visits add up, and the odds are the same everywhere, so the whole is one large collection."""
    needed = np.array(drawn([member(f"c{n}") for n in range(30)])["together"]["electrolytic"])
    mean, variance = closed_form(30 * COUNT * ARRIVALS * YEARS)
    assert needed.mean() == pytest.approx(mean, abs=4 * (variance / FUTURES) ** 0.5)
    assert needed.var() == pytest.approx(variance, rel=0.06)
    assert variance > 2 * 30 * closed_form(COUNT * ARRIVALS * YEARS)[1]  # far above that of independent collections


def test_counts_in_hand_narrow_the_forecast() -> None:
    own = [member("a")]
    few = {"shapes": shapes(own, ()), "years": YEARS, "scenarios": FUTURES, "enough": SHARE, "seed": 3}
    vague = np.array(futures(few, [plain_member(0, own[0])])["together"]["electrolytic"])
    known = np.array(drawn(own)["together"]["electrolytic"])
    assert vague.std() / vague.mean() > known.std() / known.mean()


def test_enough_is_enough_as_often_as_it_says() -> None:
    made = drawn([member("a")])
    (need,) = needs_of([made], SHARE)
    fresh = np.array(drawn([member("a")], seed=4)["together"]["electrolytic"])
    assert (fresh <= need.enough).mean() >= SHARE - 0.01
    assert (fresh <= need.enough - 1).mean() < SHARE + 0.01
    assert need.apart == need.enough  # one collection alone


def test_keeping_together_needs_no_more_than_apart() -> None:
    (need,) = needs_of([drawn([member(f"c{n}", count=1) for n in range(40)])], SHARE)
    assert need.enough < need.apart


def test_a_share_of_numbers_by_hand() -> None:
    assert [enough(np.arange(1, 11), share) for share in (0.1, 0.5, 0.9, 0.91, 1.0)] == [1, 5, 9, 10, 10]


def test_any_chunks_and_workers_give_the_same_bits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = []
    for workers, chunk in (("0", "1"), ("2", "1"), ("0", "3")):
        words = ["sweep", "forecast", str(DEMO / "network.toml"), "--years", "5", "--scenarios", "200", "--json"]
        folder = str(tmp_path / f"{workers}-{chunk}")
        assert run([*words, "--to", folder, "--workers", workers, "--per-chunk", chunk]) == 0
        found.append(json.loads(capsys.readouterr().out))
    assert found[0]["sha256"] == found[1]["sha256"]
    assert found[0]["needs"] == found[2]["needs"]
    assert found[0]["collections"] == found[2]["collections"]


def test_experience_moves_a_forecast(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "c.csv").write_text("kind,age,parts,objects,failures\nkeyboard,41,100,100,\n", "utf-8")
    assert run(["learn", "counts", str(tmp_path / "c.csv"), "--experience", str(tmp_path / "e.jsonl")]) == 0
    capsys.readouterr()
    means = []
    for name, more in (("plain", []), ("learned", ["--experience", str(tmp_path / "e.jsonl")])):
        words = ["sweep", "forecast", str(DEMO / "network.toml"), "--years", "5", "--json"]
        assert run([*words, "--to", str(tmp_path / name), *more]) == 0
        rows = json.loads(capsys.readouterr().out)["needs"]
        means.append(next(row["mean"] for row in rows if row["kind"] == "keyboard"))
    assert means[1] < means[0] / 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("kilter = 2\n", "kilter = 1"),
        ("kilter = 1\n", "at least one"),
        ("kilter = 1\n[collections.a]\n", "one row of objects"),
        ("kilter = 1\n[[collections.a.objects]]\ncount = 1\narrivals = 1\n", "one of them"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { flux = 2 }\ncount = 1\narrivals = 1\n", "flux"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { led = 0 }\ncount = 1\narrivals = 1\n", "from 1"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { led = 2 }\ncount = 1\n", "arrivals"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { led = 2 }\ncount = 1\narrivals = -1\n", "from 0 on"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { led = 2 }\ncount = 1\narrivals = 1\nage = -3\n", "age"),
        ("kilter = 1\n[[collections.a.objects]]\nparts = { led = 2 }\ncount = 1\narrivals = 1\nmood = 1\n", "mood"),
    ],
)
def test_networks_that_cannot_be(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "n.toml").write_text(text, "utf-8")
    with pytest.raises(BadInput, match=words):
        read_network(tmp_path / "n.toml")


@pytest.mark.parametrize("more", [["--years", "0"], ["--years", "5", "--scenarios", "0"], ["--years", "900"]])
def test_forecasts_that_cannot_be(more: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sweep", "forecast", str(DEMO / "network.toml"), "--to", str(tmp_path / "x"), *more]) == 2
    assert "Cannot forecast" in capsys.readouterr().err
