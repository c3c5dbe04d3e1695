"""Fixed forms of sentence about objects on display, as `kilter.web.spoken.FORMS` takes them."""

from __future__ import annotations

FORMS: tuple[tuple[str, str], ...] = (
    (r"(?P<hours>\d+) h a year, neither counted nor planned", "%(hours)s h a year, neither counted nor planned"),
    (
        r"switched on (?P<times>\d+) times a year, neither counted nor planned",
        "switched on %(times)s times a year, neither counted nor planned",
    ),
    (r"(?P<hours>\d+) h before it came on display", "%(hours)s h before it came on display"),
    (r"switched on (?P<times>\d+) times before", "switched on %(times)s times before"),
    (r"(?P<years>\d+) years old when it came on display", "%(years)s years old when it came on display"),
    (r"parts (?P<kelvins>\d+) K warmer than the room", "parts %(kelvins)s K warmer than the room"),
    (r"a room of (?P<celsius>\d+) degC", "a room of %(celsius)s °C"),
    (r"(?P<celsius>-?[\d.]+) degC on (?P<day>[\d-]+)", "%(celsius)s °C on %(day)s"),
    (r"(?P<humidity>[\d.]+) % relative humidity on (?P<day>[\d-]+)", "%(humidity)s %% relative humidity on %(day)s"),
    (r"Renew (?P<count>\d+) × (?P<what>.+) before it fails", "Renew %(count)s × %(what)s before it fails"),
)
"""Pattern and message with the same names in it."""
