"""The house whose record it is, as the configuration in the data folder names it."""

from __future__ import annotations

from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.records.house import House
from kilter.store.place import CONFIGURATION, configuration, place


def own_house(home: Path | None = None) -> House:
    """
    `house` and `house_uri` of the configuration.

    Raises:
        BadInput: The configuration cannot be read, one of the two is no text, or `house_uri` is no URI.
    """
    folder = home or place().home
    told = {key: configuration(folder).get(key, "") for key in ("house", "house_uri")}
    for key, words in told.items():
        if not isinstance(words, str):
            raise BadInput(f"Cannot read the configuration {folder / CONFIGURATION}", f"{key} = {words!r}",
                           f'a text, as {key} = "WORDS"', "Correct the file.")  # fmt: skip
    return House(told["house"].strip(), told["house_uri"].strip())
