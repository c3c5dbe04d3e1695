"""The history of a board file: old labels and signs seen."""

from __future__ import annotations

from kilter.importers.board_draft import Draft
from kilter.importers.known_names import KnownNames
from kilter.importers.toml_tables import Table
from kilter.measure.quantities import quantity
from kilter.parts.kinds import modes_of
from kilter.records.history import History, Label, Seen


def read_history(draft: Draft) -> History:
    """Read [history]."""
    history = draft.file.table("history")
    labels = tuple(_label(draft, row) for row in history.rows("labels"))
    seen = tuple(_seen(draft, row) for row in history.rows("seen"))
    history.done()
    return History(labels, seen)


def _label(draft: Draft, row: Table) -> Label:
    ref = draft.part(row.needed_text("says"), row.at("says"))
    mode = row.text("mode")
    if mode:
        modes = KnownNames("failure mode", [mode.key for mode in modes_of(draft.parts[ref])])
        mode = modes.find(mode, draft.doing, row.at("mode"))
    reliability = row.share("reliability")
    if reliability is None:
        raise row.bad("reliability", None, "a share from 0 (tells nothing) to 1", "Add reliability = 0.3 or the like.")
    row_label = Label(ref, mode, reliability, row.text("text"))
    row.done()
    return row_label


def _seen(draft: Draft, row: Table) -> Seen:
    ref = draft.part(row.needed_text("part"), row.at("part"))
    signs = KnownNames("sign", quantity("look").categories)
    seen = Seen(ref, signs.find(row.needed_text("sign"), draft.doing, row.at("sign")))
    row.done()
    return seen
