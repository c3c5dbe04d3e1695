"""The database itself refuses to change or delete what was written once, whoever asks, in plain SQL."""

from __future__ import annotations

from io import BytesIO

import pytest
from display_scene import display_fill
from django.db import DatabaseError, connection, transaction
from record_scene import Scene
from soak_scene import soak_fill

from kilter.store.models import CollectionObject
from kilter.store.models.append_only import AppendOnly
from kilter.store.triggers import WORDS, protected_tables, unprotected
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.files import attach
from kilter.store.verbs.learned import add_learned, know_sharer
from kilter.store.verbs.outcomes import note_outcome
from kilter.store.verbs.proposals import withdraw_proposal
from kilter.store.verbs.statements import state
from kilter.store.verbs.visits import record_check, set_visit


def fill(scene: Scene) -> None:
    """A row in every table that is written once."""
    repairer, one = scene.who("repairer"), scene.an_object()
    keep_board(repairer, "step", "Step", "a.toml", {"a.toml": b"x"})
    visit = scene.a_visit(one)
    scene.an_entry(visit)
    record_check(repairer, visit, "fuse fits", "passed")
    set_visit(repairer, visit, "closed")
    note_outcome(repairer, visit, "no part was faulty", {}, "works again")
    add_learned(repairer, "counts", {"counts": []}, after=0)
    know_sharer(scene.who("registrar"), "harbour", "5" * 64, 0.5)
    state(repairer, one, "note", "smells of varnish")
    attach(repairer, BytesIO(b"y"), "y.txt", "document", "text/plain", about=one)
    scene.a_piece(one)
    display_fill(scene)
    soak_fill(scene)
    proposal = scene.a_proposal(one)
    scene.agree(proposal, keeper="approver")
    withdraw_proposal(repairer, proposal, "it works")


def test_no_row_is_changed_or_deleted(record: Scene) -> None:
    fill(record)
    connection.check_constraints()  # PostgreSQL truncates nothing while keys wait to be looked at
    tried = 0
    for table, updates in protected_tables().items():
        column = "number" if table == "store_journalrow" else "id"
        deeds = [f'DELETE FROM "{table}"', *([f'UPDATE "{table}" SET "{column}" = "{column}"'] if updates else [])]
        if connection.vendor == "postgresql":
            deeds.append(f'TRUNCATE "{table}" CASCADE')
        for deed in deeds:
            with connection.cursor() as cursor:
                cursor.execute(f'SELECT count(*) FROM "{table}"')
                assert cursor.fetchone()[0] > 0, f"nothing in {table} to try it on"
            with pytest.raises(DatabaseError, match=WORDS), transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(deed)
            tried += 1
    assert tried >= 2 * len(protected_tables()) - 1


def test_not_through_djangos_own_way_either(record: Scene) -> None:
    entry = record.an_entry(record.a_visit())
    entry.note = "nothing to see"
    for deed in (entry.save, entry.delete, lambda: type(entry).objects.update(value=0.0)):
        with pytest.raises(DatabaseError, match=WORDS), transaction.atomic():
            deed()
    with pytest.raises(DatabaseError, match="protected"):
        entry.visit.object.delete()


def test_replacing_a_row_is_deleting_it(record: Scene) -> None:
    """SQLite's INSERT OR REPLACE meets no delete trigger unless recursive triggers are on (its manual)."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL has no such statement; its ON CONFLICT is an UPDATE, which the triggers see")
    entry = record.an_entry(record.a_visit())
    with pytest.raises(DatabaseError, match=WORDS), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT OR REPLACE INTO store_visitentry SELECT id, at, number, kind, words, point, quantity, 0.0, word, "
            "uncertainty, state, instrument, doubtful, note, visit_id, who_id FROM store_visitentry WHERE id = %s",
            [entry.pk],
        )


def test_every_table_that_is_written_once_is_protected(record: Scene) -> None:  # noqa: ARG001
    tables = protected_tables()
    assert {one._meta.db_table for one in AppendOnly.__subclasses__()} <= tables.keys()
    assert tables[CollectionObject._meta.db_table] is False  # its row shows the latest edition
    assert unprotected(connection, tables) == ()
    assert unprotected(connection, {**tables, "store_job": True}) == ("store_job",)
