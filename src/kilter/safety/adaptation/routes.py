"""Ways to fit an adaptation, the least invasive first; drilling is always grade 6 and needs approval."""

from __future__ import annotations

from kilter.measure.tables import table
from kilter.safety.adaptation.design import Route


def routes(kind: str) -> tuple[Route, ...]:
    """The ways of one kind of adaptation, from data/adaptation/routes.toml, by grade."""
    rows = table("adaptation/routes")[kind]["ways"]
    found = [Route(row["title"], int(row["grade"]), row["words"], bool(row.get("approval"))) for row in rows]
    return tuple(sorted(found, key=lambda one: one.grade))
