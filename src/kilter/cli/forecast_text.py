"""What `kilter sweep forecast` prints, in plain text and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kilter.cli.layout import columns, heading, wrapped
from kilter.services.forecast_network import Need

SHOWN = 12
"""Kinds listed for people; plain data has all."""


def forecast_plain(needs: Sequence[Need], results: Sequence[Mapping[str, Any]], share: float) -> dict[str, Any]:
    """Needs of the network and of each collection."""
    rows = [{"kind": n.kind, "mean": n.mean, "enough": n.enough, "enough_apart": n.apart} for n in needs]
    members = [
        {"name": member["name"], "needs": {kind: {"mean": mean, "enough": own} for kind, (mean, own) in
                                           member["needs"].items()}}
        for one in results
        for member in one["members"]
    ]  # fmt: skip
    return {"enough_share": share, "needs": rows, "collections": members}


def forecast_text(needs: Sequence[Need], results: Sequence[Mapping[str, Any]], share: float, years: float) -> str:
    """The same for people."""
    members = sum(len(one["members"]) for one in results)
    rows = [("kind", "expected", f"enough in {share:.0%}", "kept apart", "saved together")]
    for one in needs[:SHOWN]:
        saved = f"{1 - one.enough / one.apart:.0%}" if one.apart else "-"
        rows.append((one.kind, f"{one.mean:.1f}", str(one.enough), str(one.apart), saved))
    left = len(needs) - SHOWN
    more = [f"and {left} more kinds: --json has them all"] if left > 0 else []
    note = (
        "Expected pieces, pieces that are enough in that share of the futures drawn, and the same if every collection "
        "keeps its own. Odds are drawn once for the whole network, so what nobody knows about a kind does not average "
        "out. Whether a part can be had, or should be replaced, is not in it."
    )
    title = heading(f"pieces needed in {years:g} years, {members} collections")
    return "\n".join([title, columns(rows), *more, wrapped(note)])
