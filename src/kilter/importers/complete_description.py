"""What one description lacks and another of the same board has: values, symbol names and names of pins."""

from __future__ import annotations

from dataclasses import replace

from kilter.importers.description import Connection, DescribedPart, Description


def completed(first: Description, second: Description) -> Description:
    """
    The first description with what it lacks taken from the second, which is said among its guesses.

    Nothing that the first one says is changed, and no pin is connected.
    """
    parts, values, functions = {}, 0, 0
    for ref, part in first.parts.items():
        other = second.parts.get(ref)
        if other is None:
            parts[ref] = part
            continue
        pins = {pin: _named(one, other.pins.get(pin)) for pin, one in part.pins.items()}
        functions += sum(one != part.pins[pin] for pin, one in pins.items())
        value = part.value or other.value
        values += value != part.value
        parts[ref] = replace(part, pins=pins, value=value, names=_names(part, other))
    guesses = first.guesses
    if values or functions:
        guesses += (f"Values of {values} parts and names of {functions} pins are taken from {second.file}.",)
    return replace(first, parts=parts, guesses=guesses, has_values=first.has_values or second.has_values)


def _named(one: Connection, other: Connection | None) -> Connection:
    return replace(one, function=other.function) if other is not None and not one.function else one


def _names(part: DescribedPart, other: DescribedPart) -> tuple[str, ...]:
    return (*part.names, *(name for name in other.names if name not in part.names))
