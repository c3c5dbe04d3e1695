"""A temperature picture as its page needs it: read, placed on the board, and beside those of good specimens."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.temperature_matrix import read_temperature_matrix
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.compare_thermal import PartHeat, compare_parts
from kilter.services.evidence_of import make_test
from kilter.services.place_thermal import PlacedPicture, place_by_marks, place_by_picture
from kilter.services.predict import Expectation, expected
from kilter.services.read_thermal import INSTRUMENT, QUANTITY, PartRise, part_rises, rises_of
from kilter.simulate.chain import usual_chain
from kilter.store.models import BoardEdition, Filing
from kilter.thermal.heat import Ambient
from kilter.thermal.image import TemperatureImage
from kilter.thermal.outlines import Outlines
from kilter.thermal.register import Registration, register
from kilter.web.thermal_said import Said, said_of
from kilter.wiring.kept_file import read_kept
from kilter.wiring.record_bench import board_of
from kilter.wiring.thermal_board import outlines_of_edition

KIND = "thermal picture"
NOTHING = PlacedPicture({}, doubts=("no board is known",))


@dataclass(frozen=True)
class Look:
    """
    One picture.

    Args:
        filing: It was brought as.
        said: What people said of it.
        image: Its temperatures.
        placed: The parts on it.
        parts: Read, by reference.
        ambient: Its surroundings.
        by: Number of the object whose picture placed it; '' where its own marks did.
    """

    filing: Filing
    said: Said
    image: TemperatureImage
    placed: PlacedPicture
    parts: Mapping[str, PartRise]
    ambient: Ambient
    by: str = ""


@dataclass(frozen=True)
class Beside:
    """
    Pictures of good specimens.

    Args:
        looks: Those that parts could be read on.
        left_out: Object and reason, of the others.
        heats: Part by part.
    """

    looks: tuple[Look, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    heats: Mapping[str, PartHeat] = field(default_factory=dict)


def image_of(filing: Filing, said: Said) -> TemperatureImage:
    """
    The temperatures of a file; the last few are remembered.

    Raises:
        BadInput: It holds none, or its unit cannot be told.
    """
    return _image(filing.attachment.sha256, filing.name, said.unit)


def look_at(filing: Filing, edition: BoardEdition | None) -> tuple[Look, Beside]:
    """
    A picture, placed by its own marks, else by a good specimen's picture; and those of good specimens.

    Raises:
        BadInput: The picture cannot be read, or its board cannot be loaded.
    """
    board = board_of(edition) if edition is not None else None
    drawn = outlines_of_edition(edition, board) if edition is not None and board is not None else None
    own = _by_marks(filing, board, drawn)
    others, left_out = _good_ones(filing, edition, board, drawn)
    placed = next((one for one in (own, *others) if one.placed.whole), None)
    if placed is not None:
        own = _helped(own, placed)
        others = [_helped(one, placed) for one in others]
    with_parts = tuple(_read(one) for one in others if one.placed.spots)
    left_out += [(_object(one), "; ".join(one.placed.doubts)) for one in others if not one.placed.spots]
    own = _read(own)
    heats: dict[str, PartHeat] = {}
    if with_parts:
        outlines = {ref: one.spot.outline for ref, one in own.parts.items()}
        compared = compare_parts(outlines, rises_of(own.parts), [rises_of(one.parts) for one in with_parts])
        heats = {one.ref: one for one in compared}
    return own, Beside(with_parts, tuple(left_out), heats)


def expected_rises(edition: BoardEdition, state: str, refs: tuple[str, ...]) -> Mapping[str, Expectation]:
    """What the model of the board expects of parts in a state, where it tells anything."""
    return _expected(edition.digest, state, refs) if refs else {}


@lru_cache(maxsize=16)
def _expected(digest: str, state: str, refs: tuple[str, ...]) -> Mapping[str, Expectation]:
    board = board_of(BoardEdition.objects.filter(digest=digest)[0])
    chain = usual_chain(board)
    tests = [make_test(board, ref, QUANTITY, state, INSTRUMENT) for ref in refs]
    tests = [one for one in tests if chain.answers(board, one)]
    return dict(zip([one.point for one in tests], expected(board, chain, state, tests), strict=True)) if tests else {}


def _by_marks(filing: Filing, board: Board | None, drawn: Outlines | None) -> Look:
    said = said_of(filing)
    image = image_of(filing, said)
    marks = [one for one in said.marks if board is not None and one.ref in board.parts]
    placed = NOTHING if board is None else place_by_marks(board, drawn, marks)
    return Look(filing, said, image, placed, {}, Ambient(0.0, 0.0, True))


def _good_ones(
    filing: Filing, edition: BoardEdition | None, board: Board | None, drawn: Outlines | None
) -> tuple[list[Look], list[tuple[str, str]]]:
    """Pictures of visits to good specimens with the same board, the latest of each object."""
    if edition is None:
        return [], []
    rows = Filing.objects.standing().filter(
        kind=KIND, visit__known_good=True, visit__board_edition__board=edition.board
    )
    rows = rows.exclude(object=filing.object).select_related("attachment", "object", "visit").order_by("pk")
    latest = list({one.object_id: one for one in rows}.values())[-int(table("web")["page"]["good_pictures"]) :]
    found, left_out = [], []
    for one in latest:
        try:
            found.append(_by_marks(one, board, drawn))
        except BadInput as error:
            left_out.append((one.object.number if one.object else one.name, error.found))
    return found, left_out


def _helped(look: Look, placed: Look) -> Look:
    """The picture as it stands, or placed by another one."""
    if look.placed.whole:
        return look
    found = _registration(*(part for one in (placed, look) for part in
                            (one.filing.attachment.sha256, one.filing.name, one.said.unit)))  # fmt: skip
    return replace(look, placed=place_by_picture(found, look.said.marks, placed.placed), by=_object(placed))


def _read(look: Look) -> Look:
    parts, ambient = part_rises(look.image, look.placed, look.said.ambient, _before(look))
    return replace(look, parts=parts, ambient=ambient)


def _before(look: Look) -> TemperatureImage | None:
    if not look.said.before:
        return None
    rows = Filing.objects.filter(object=look.filing.object, kind=KIND, attachment__sha256=look.said.before)
    filing = rows.select_related("attachment", "object").order_by("-pk").first()
    if filing is None:
        raise BadInput("Cannot take the picture before power off", "a picture that was never brought",
                       "a temperature picture of this object", "Choose it again.")  # fmt: skip
    return image_of(filing, said_of(filing))


def _object(look: Look) -> str:
    return look.filing.object.number if look.filing.object is not None else look.filing.name


@lru_cache(maxsize=8)
def _image(sha256: str, name: str, unit: str) -> TemperatureImage:
    def read(path: Path) -> TemperatureImage:
        return replace(read_temperature_matrix(path, unit), source=name)

    return read_kept(sha256, name, read)


@lru_cache(maxsize=16)
def _registration(sha_a: str, name_a: str, unit_a: str, sha_b: str, name_b: str, unit_b: str) -> Registration:
    """From the first picture to the second; it takes seconds, so the last few are remembered."""
    return register(_image(sha_a, name_a, unit_a).celsius, _image(sha_b, name_b, unit_b).celsius)
