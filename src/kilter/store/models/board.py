"""Boards that the collection knows: editions of a folder of files, each file kept by its SHA-256."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly


class KnownBoard(AppendOnly):
    """A type of board; what is known about it stands in its editions."""

    key = models.CharField(max_length=60, unique=True)

    def latest(self) -> BoardEdition:
        """The edition that a new visit works with."""
        return self.editions.order_by("-edition")[0]


class BoardEdition(AppendOnly):
    """
    One edition of a board's files.

    Args:
        main: Name of the file to load, such as 'board.toml'.
        digest: SHA-256 over names and contents of all files; names the folder it is unpacked into.
    """

    board = models.ForeignKey(KnownBoard, on_delete=models.PROTECT, related_name="editions")
    edition = models.PositiveIntegerField()
    title = models.CharField(max_length=200)
    main = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    why = models.TextField(blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["board", "edition"], name="board_edition_once")]


class BoardFile(AppendOnly):
    """One file of an edition; the name is relative, with '/' between folders."""

    edition = models.ForeignKey(BoardEdition, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=200)
    attachment = models.ForeignKey("store.Attachment", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["edition", "name"], name="board_file_once")]
