"""Move a record from one engine to another, row by row, keys kept; the old one stays as it was."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from django.apps import apps
from django.core.management import call_command
from django.db import connections, models, transaction

from kilter.measure.errors import BadInput
from kilter.store.check import check
from kilter.store.journal import head, take_turn
from kilter.store.place import Place, django_database
from kilter.store.prepare import own_file
from kilter.store.trouble import plainly

PIECE = 1000
LEFT_BEHIND = ("session", "contenttype", "permission", "loginattempt")
"""Tables that are made anew, or that nobody needs."""
OTHER = "moved_to"


def move_to(address: str, home: Place, told: Callable[[str], None] = lambda _: None) -> int:
    """
    Copies every row into an empty database, and compares the two journals.

    Args:
        address: Of the other database, as for KILTER_DATABASE.
        home: The place now; its files stay where they are.
        told: Hears how far it is.

    Returns:
        Rows copied.

    Raises:
        BadInput: The other database has tables, cannot be written, or the copy does not come out the same.
    """
    doing = "Cannot move the record"
    target = Place(home.home, address)
    if target.database == home.database:
        raise BadInput(doing, "the database it is in", "another one", "Name another address.")
    connections.databases[OTHER] = {**_defaults(), **django_database(target)}
    try:
        with plainly(doing):
            other = connections[OTHER]
            own_file(other)
            if other.introspection.table_names():
                raise BadInput(doing, f"tables in {target.shown}", "an empty database", "Name another address.")
            call_command("migrate", database=OTHER, verbosity=0, interactive=False)
            with transaction.atomic("default"), transaction.atomic(OTHER):
                take_turn()
                rows = sum(_copy(model, told) for model in _in_order())
                _set_counters(other)
                if head("default") != head(OTHER):
                    raise BadInput(doing, "a copy whose journal differs", "the same journal in both",
                                   "Look at the disk and the server; the copy was not kept.")  # fmt: skip
            told("a check of the copy")
            if wrong := check(files=False, using=OTHER).wrong:
                raise BadInput(doing, f"a copy in which {wrong[0]}", "a copy that is as it was",
                               "Do not use the copy; run 'kilter store check' on the record.")  # fmt: skip
    finally:
        connections[OTHER].close()
        del connections[OTHER], connections.databases[OTHER]
    return rows


def _defaults() -> dict[str, Any]:
    known = connections["default"].settings_dict
    return {name: known[name] for name in ("ATOMIC_REQUESTS", "AUTOCOMMIT", "CONN_MAX_AGE", "CONN_HEALTH_CHECKS",
                                           "TIME_ZONE", "TEST")} | {"OPTIONS": {}, "USER": "", "PASSWORD": "",
                                                                    "HOST": "", "PORT": ""}  # fmt: skip


def _in_order() -> Iterator[type[models.Model]]:
    """Tables, those that others point to first; the tables between two are told as tables too."""
    waiting = [one for one in apps.get_models(include_auto_created=True) if one._meta.model_name not in LEFT_BEHIND]
    done: set[type[models.Model]] = set()
    while waiting:
        ready = [one for one in waiting if _needs(one, waiting) <= done]
        for one in ready or waiting[:1]:
            yield one
            done.add(one)
            waiting.remove(one)


def _needs(one: type[models.Model], waiting: list[type[models.Model]]) -> set[type[models.Model]]:
    pointed = {field.related_model for field in one._meta.concrete_fields if field.related_model is not None}
    return {other for other in pointed if other is not one and other in waiting}


def _copy(model: type[models.Model], told: Callable[[str], None]) -> int:
    name, count, piece = str(model._meta.verbose_name), 0, []
    if "permission" in str(model._meta.model_name):
        return 0
    if model._meta.model_name == "group":
        model._base_manager.using(OTHER).all().delete()  # the migration made them; they come over with their keys
    for row in model._base_manager.using("default").order_by("pk").iterator(PIECE):
        piece.append(row)
        if len(piece) == PIECE:
            count += _put(model, piece)
            told(f"{name}: {count}")
            piece = []
    return count + _put(model, piece)


def _put(model: type[models.Model], rows: list[models.Model]) -> int:
    model._base_manager.using(OTHER).bulk_create(rows)
    return len(rows)


def _set_counters(other: Any) -> None:
    """PostgreSQL's own counters go on after the last key that came over."""
    from django.core.management.color import no_style

    with other.cursor() as cursor:
        for line in other.ops.sequence_reset_sql(no_style(), list(apps.get_models(include_auto_created=True))):
            cursor.execute(line)
