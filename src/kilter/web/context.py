"""What every page knows."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from kilter.services.permissions import VERBS, may


def of_every_page(request: HttpRequest) -> dict[str, Any]:
    """`may`: verbs by name, blanks as underscores, to whether the person here may do them."""
    person = getattr(request, "user", None)
    roles = person.roles() if person is not None and person.is_authenticated else ()
    return {"may": {name.replace(" ", "_").replace("'", ""): may(roles, name) for name in VERBS}, "roles": roles}
