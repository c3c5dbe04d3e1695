"""`kilter soak follow`: a soak that is logged and judged while it runs, from instruments that are plugged in."""

from __future__ import annotations

import argparse
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kilter.cli.layout import as_json, wrapped
from kilter.cli.soak_text import judged_text
from kilter.importers.soak_plan_file import SoakPlanFile, read_soak_plan
from kilter.live.connection import BACKEND, Connection, connect
from kilter.live.profiles import families, limit, value_profile
from kilter.live.soak_log import SoakLog, hours_clock
from kilter.measure.errors import BadInput, OutOfRange
from kilter.planning.soak.channel import STEADY, Channel
from kilter.planning.soak.schedule import stages
from kilter.services.follow_soak import BLIND, CHANGE, HAND, LIMIT, Followed, Follower, Outcome

DOING = "Cannot follow the soak"
CODES = {LIMIT: 4, CHANGE: 4, BLIND: 5}
"""Exit codes of endings at which somebody has to go there at once."""
UNANSWERED = 3
LONGEST_PAUSE = 86400.0
SAYS = (
    "Kilter asks instruments for values. It switches nothing on or off, whatever it finds: that is for a person who "
    "stays with the object."
)
LOUD = {
    LIMIT: "STOP: {words}. Switch the object off now. Kilter switches nothing.",
    CHANGE: "CHANGED: {words}. Go and look. Kilter switches nothing.",
    BLIND: "NOT WATCHED: {words}. Go there, watch it or switch it off. Kilter switches nothing.",
}


@dataclass(frozen=True)
class Wanted:
    """What `--instrument` says: a channel, an address, and how to ask."""

    channel: str
    address: str
    supply: bool
    family: str
    output: int


def options(kinds: Any) -> argparse.ArgumentParser:
    """What it takes."""
    one: argparse.ArgumentParser = kinds.add_parser("follow", help="log and judge a soak while it runs")
    one.add_argument("--plan", metavar="FILE", type=Path, required=True, help="the plan, with its limits")
    one.add_argument("--instrument", metavar="CHANNEL=ADDRESS", action="append", required=True,
                     help="what reads a channel; ',supply', ',family=NAME', ',output=N' may follow")
    one.add_argument("--out", metavar="FILE", type=Path, required=True, help="log file; an earlier one is continued")
    one.add_argument("--hours", type=float, help="to be watched; those of the plan unless given")
    one.add_argument("--every", metavar="SECONDS", type=float, help="pause between rounds; else as a plan has it")
    one.add_argument("--stop-at-change", action="store_true", help="end at a lasting change too, not at a limit alone")
    one.add_argument("--backend", default=BACKEND, help="backend of PyVISA (@py, pure Python)")
    one.set_defaults(soak=run)
    return one


def run(chosen: argparse.Namespace) -> int:
    """Follows it; see CODES for the exit codes of a bad end, 3 where something stays open."""
    plan = read_soak_plan(chosen.plan)
    hours = chosen.hours if chosen.hours is not None else plan.hours
    steps = stages(hours)
    if chosen.every is not None and not 0 <= chosen.every <= LONGEST_PAUSE:
        raise OutOfRange(DOING, f"a round every {chosen.every:g} s", f"0 to {LONGEST_PAUSE:.0f} s", "Correct --every.")
    wanted = [_wanted(words, plan) for words in chosen.instrument]
    channels = _channels(plan, wanted)
    questions = [_question(channel, one) for channel, one in zip(channels, wanted, strict=True)]
    left = [one.name for one in plan.channels if one not in channels]
    _say(SAYS)
    patience = _Patience()
    with ExitStack() as opened, patience.listening():
        sources = _connections(wanted, chosen.backend, opened)
        log = SoakLog(chosen.out, channels)
        if log.rows:
            _say(f"{chosen.out} is continued after {len(log.rows)} lines, as the same time of being on; after "
                 "switching off and on take a new file.")  # fmt: skip
        followed = [Followed(*one) for one in zip(channels, sources, questions, strict=True)]
        follower = Follower(followed, log, _say, hours, steps, chosen.every, int(limit("tries")),
                            chosen.stop_at_change, chosen.out.name, list(log.rows))  # fmt: skip
        found = follower.run(hours_clock(log, time.monotonic), patience.wait)
    return _tell(chosen, found, left)


def _wanted(words: str, plan: SoakPlanFile) -> Wanted:
    """One `--instrument`; the channel may be left out where the plan has only one."""
    first, *more = [one.strip() for one in words.split(",")]
    name, equals, address = (one.strip() for one in first.rpartition("="))
    if not equals and len(plan.channels) == 1:
        name = plan.channels[0].name
    if not name or not address:
        raise BadInput(DOING, f"--instrument '{words}'", "CHANNEL=ADDRESS such as V5=TCPIP::192.0.2.7::5025::SOCKET",
                       "Name the channel of the plan and the VISA address.")  # fmt: skip
    told = {"family": "measure", "output": "1", "supply": ""}
    for one in more:
        key, _, value = (part.strip() for part in one.partition("="))
        if key not in told or (key == "supply") == bool(value):
            raise BadInput(DOING, f"'{one}' in --instrument '{words}'", "supply, family=NAME or output=N",
                           "Use one of these.")  # fmt: skip
        told[key] = value or "yes"
    if not (told["output"].isascii() and told["output"].isdecimal() and len(told["output"]) < 4):
        raise BadInput(DOING, f"the output '{told['output']}'", "a number such as 1", "Correct output=.")
    return Wanted(name, address, bool(told["supply"]), told["family"], int(told["output"]))


def _channels(plan: SoakPlanFile, wanted: list[Wanted]) -> list[Channel]:
    known = {one.name: one for one in plan.channels}
    found = []
    for one in wanted:
        channel = known.pop(one.channel, None)
        if channel is None:
            raise BadInput(DOING, f"the channel '{one.channel}'", ", ".join(known) or "none is left: each has its own",
                           "Name each channel of the plan once.")  # fmt: skip
        if not channel.quantity:
            raise BadInput(DOING, f"no quantity for the channel '{channel.name}'", "one such as 'voltage'",
                           "Say in the plan what it is.")  # fmt: skip
        found.append(channel)
    return found


def _question(channel: Channel, one: Wanted) -> str:
    group = "supplies" if one.supply else "meters"
    if one.family not in families(group):
        raise BadInput(DOING, f"the command family '{one.family}'", ", ".join(families(group)),
                       "'kilter live list' shows what they are.")  # fmt: skip
    return value_profile(group, one.family).query(channel.quantity, one.output)


def _connections(wanted: list[Wanted], backend: str, opened: ExitStack) -> list[Connection]:
    """One for each channel; an instrument that reads two of them is opened once."""
    known: dict[str, Connection] = {}
    for one in wanted:
        if one.address not in known:
            known[one.address] = opened.enter_context(connect(one.address, backend=backend))
            _say(f"{one.address}: {known[one.address].identify()}")
    return [known[one.address] for one in wanted]


class _Patience:
    """
    Waits between rounds; a request to end, by Ctrl-C or as a machine that shuts down makes it, is heard then.

    So a round that was begun is kept whole. Asked a second time it ends at once.
    """

    def __init__(self) -> None:
        self.asked = self.waiting = False

    def wait(self, seconds: float) -> None:
        """Waits so many seconds; KeyboardInterrupt where somebody asked for the end."""
        self.waiting = True
        try:
            if self.asked:
                raise KeyboardInterrupt
            time.sleep(seconds)
        finally:
            self.waiting = False

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Takes the two signals, and gives them back."""
        before: dict[signal.Signals, Any] = {
            one: signal.signal(one, self._end) for one in (signal.SIGINT, signal.SIGTERM)
        }
        try:
            yield
        finally:
            for one, how in before.items():
                signal.signal(one, how)

    def _end(self, *_: object) -> None:
        again, self.asked = self.asked, True
        if self.waiting or again:
            raise KeyboardInterrupt


def _tell(chosen: argparse.Namespace, found: Outcome, left: list[str]) -> int:
    verdict = found.verdict
    open_ = [f"{name} was not followed" for name in left]
    open_ += list(verdict.open) if verdict is not None else ["too few values to judge anything"]
    open_ += [found.words] if found.ending == HAND else []
    if chosen.json:
        print(as_json({"ending": found.ending, "words": found.words, "log": str(chosen.out), "rows": len(found.rows),
                       "not_followed": left, "verdict": verdict.plain() if verdict is not None else None}))  # fmt: skip
    else:
        print(judged_text(verdict) if verdict is not None else f"{len(found.rows)} lines in {chosen.out}.")
    for words in open_:
        _say(f"Unanswered: {words}")
    sys.stdout.flush()
    if found.ending in LOUD:
        bell = "\a" if sys.stderr.isatty() else ""
        print(f"{bell}{LOUD[found.ending].format(words=found.words)}", file=sys.stderr)
    steady = verdict is not None and verdict.worst == STEADY and not open_
    return CODES.get(found.ending, 0 if steady else UNANSWERED)


def _say(words: str) -> None:
    print(wrapped(words, 0, 2), file=sys.stderr, flush=True)
