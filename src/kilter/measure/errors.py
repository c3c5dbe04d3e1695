"""
Errors that teach: each says what was being done, what was found, what is allowed and what to do next.

    KilterError
    ├── BadInput        something a person typed or a file they gave cannot be used    exit code 2
    │   └── OutOfRange  the number was understood but lies outside what is covered
    ├── NotAllowed      the person lacks the role or the approval for it                exit code 2
    └── NotAvailable    an optional engine or library is absent on this machine         exit code 2
"""

from __future__ import annotations


class KilterError(Exception):
    """
    A message in four parts.

    Args:
        doing: What was being done, as 'Cannot read the board file lamp.toml'.
        found: What was found, with its value, unit and place.
        allowed: What is allowed or available.
        do_next: What the reader should do now.

    >>> print(KilterError("Cannot read R7", "the value '4x7'", "values such as 4k7 or 4.7 kohm", "Retype it."))
    Cannot read R7: found the value '4x7'. Allowed: values such as 4k7 or 4.7 kohm. Retype it.
    """

    exit_code = 2

    def __init__(self, doing: str, found: str, allowed: str, do_next: str) -> None:
        self.doing, self.found, self.allowed, self.do_next = doing, found, allowed, do_next
        super().__init__(f"{doing}: found {found}. Allowed: {allowed}. {do_next}")

    def __reduce__(self) -> tuple[type[KilterError], tuple[str, str, str, str]]:
        """How another process gets it: by its four parts."""
        return type(self), (self.doing, self.found, self.allowed, self.do_next)


class BadInput(KilterError):
    """A file or an entry that cannot be used as it stands."""


class OutOfRange(BadInput):
    """A number that was understood but lies outside what is covered."""


class NotAllowed(KilterError):
    """Something that the person at work may not do, or not yet."""


class NotAvailable(KilterError):
    """An optional engine or library that this machine lacks."""
