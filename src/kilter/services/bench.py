"""The bench session: one test after another, every answer weighed at once, nothing ever deleted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from kilter.diagnose.ask import Advice
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantities
from kilter.records.reading import Reading
from kilter.services.diagnose import POWER_CHECKS, Diagnoser, Diagnosis
from kilter.services.visit_log import CHECKED, READ, SKIPPED, UNDONE, WAIVED, Entry, VisitLog

DEEDS = ("renewed", "unplugged", "plugged", "lifted")
"""What a person at the bench can say was done to the object."""


def line_words(line: str) -> dict[str, str]:
    """
    A line 'POINT VALUE @STATE' by the columns of a readings file; a question mark after the value doubts it.

    >>> line_words("V5 4.98 V ? @bench")
    {'point': 'V5', 'value': '4.98 V', 'state': 'bench', 'doubtful': 'yes'}
    >>> line_words("IN resistance 4k7")
    {'point': 'IN', 'quantity': 'resistance', 'value': '4k7'}
    """
    text, _, state = line.partition("@")
    point, _, value = text.strip().partition(" ")
    first, _, others = value.strip().partition(" ")
    named = first.lower() if first.lower() in quantities() else ""
    read = (others if named else value).strip()
    words = {
        "point": point,
        "quantity": named,
        "value": read.rstrip("? "),
        "state": state.strip(),
        "doubtful": "yes" if read.endswith("?") else "",
    }
    return {key: word for key, word in words.items() if word}


@dataclass
class BenchSession:
    """
    A visit under way.

    Args:
        diagnoser: Of the board.
        log: What has happened so far.
        understand: Turns the words of a line into a reading; raises BadInput.
        keep: Puts entries away for good, all of them or none; called before they count.
        now: The time, ISO 8601 in UTC.
        who: Who is at the bench.
    """

    diagnoser: Diagnoser
    log: VisitLog
    understand: Callable[[Mapping[str, str]], Reading]
    keep: Callable[[Sequence[Entry]], None]
    now: Callable[[], str]
    who: str = ""
    _known: tuple[VisitLog, Diagnosis] | None = None

    def is_weighed(self) -> bool:
        """Whether the diagnosis of the readings that stand is there already."""
        return self._known is not None and self._known[0] is self.log

    def diagnosis(self) -> Diagnosis:
        """What the readings that stand say."""
        if self._known is None or not self.is_weighed():
            self.diagnoser.power_checks = self.log.power_checks
            self._known = (self.log, self.diagnoser.diagnose(self.log.readings()))
        return self._known[1]

    def offers(self) -> tuple[Advice, ...]:
        """Tests that may be done now, best first: not skipped, and powered ones only while the power checks stand."""
        diagnosis, skipped = self.diagnosis(), self.log.skipped()
        return tuple(
            one
            for one in diagnosis.advice
            if (one.test.point, one.test.quantity, diagnosis.visit.plain[one.test.state]) not in skipped
            and (self.log.power_checks or POWER_CHECKS not in one.test.needs)
        )

    def answer(self, advice: Advice, text: str, *, doubtful: bool = False) -> Reading:
        """
        Takes the answer to a test that was offered.

        Raises:
            BadInput: The text is no reading of that quantity.
        """
        test = advice.test
        state = self.diagnosis().visit.plain[test.state]
        words = {"point": test.point, "quantity": test.quantity, "value": text, "state": state}
        if test.instrument:
            words["instrument"] = test.instrument
        return self.read(words | ({"doubtful": "yes"} if doubtful else {}))

    def read(self, words: Mapping[str, str]) -> Reading:
        """
        Takes any reading or deed, by the columns of a readings file.

        Raises:
            BadInput: The words cannot be understood.
        """
        return self.read_all([words])[0]

    def read_all(self, lines: Sequence[Mapping[str, str]]) -> tuple[Reading, ...]:
        """
        Takes several readings or deeds, each by the columns of a readings file; all of them or none.

        Raises:
            BadInput: There is none, or one cannot be understood.
        """
        told = [(words, self.understand({**words, "time": self.now(), "who": self.who})) for words in lines]
        self.take_all(told)
        return tuple(reading for _, reading in told)

    def take_all(self, told: Sequence[tuple[Mapping[str, str], Reading]]) -> None:
        """
        Takes readings that are understood already, such as those of a file, each with its words; all of them or none.

        Raises:
            BadInput: There is none, or one was taken with power on while the power checks do not stand.
        """
        if not told:
            raise BadInput("Cannot take these readings", "no reading", "one or more", "Say what was read.")
        log = self.log
        for words, reading in told:
            self._refuse_before_checks(reading, log)
            kept = {key: word for key, word in words.items() if word}
            log = log.with_one(Entry(len(log.entries) + 1, self.now(), self.who, READ, kept, reading))
        self.keep(log.entries[len(self.log.entries) :])
        self.log = log

    def skip(self, advice: Advice, why: str = "") -> None:
        """Leaves a test out for the rest of the visit."""
        test = advice.test
        state = self.diagnosis().visit.plain[test.state]
        words = {"point": test.point, "quantity": test.quantity, "state": state}
        self._add(SKIPPED, words | ({"note": why} if why else {}))

    def pass_checks(self, who: str) -> None:
        """
        Records that a person passed the checks before switching on.

        Raises:
            BadInput: Nobody is named.
        """
        self.who = who or self.who
        if not self.who:
            raise BadInput("Cannot record the power checks", "no name", "the name of the person who did them",
                           "Say who did them, as 'p NAME'.")  # fmt: skip
        self._add(CHECKED)

    def waive_checks(self, who: str, why: str) -> None:
        """
        Records that a person goes on without the checks, and why.

        Raises:
            BadInput: Nobody is named, or no reason is given.
        """
        if not who or not why:
            raise BadInput("Cannot waive the power checks", "no reason" if who else "no name", "a name and a reason",
                           "Write it like 'n NAME: REASON'.")  # fmt: skip
        self.who = who
        self._add(WAIVED, {"note": why})

    def undo(self) -> Entry | None:
        """Takes the last entry that stands back, by a new entry; None where there is nothing."""
        last = self.log.last()
        if last is not None:
            self._add(UNDONE, {"entry": str(last.number)})
        return last

    def _refuse_before_checks(self, reading: Reading, log: VisitLog) -> None:
        """A powered reading while the checks do not stand would open the gate by itself."""
        state = self.diagnoser.board.state(reading.state) if reading.quantity != "done" else None
        if state is not None and state.powered and not log.power_checks:
            raise BadInput(
                "Cannot take a reading with power on", f"the state '{state.name}' before the power checks",
                "unpowered readings, until a person has passed the checks and put a name to them",
                "Do the checks, then type 'p NAME'.",
            )  # fmt: skip

    def _add(self, kind: str, words: Mapping[str, str] | None = None, reading: Reading | None = None) -> None:
        entry = Entry(len(self.log.entries) + 1, self.now(), self.who, kind, words or {}, reading)
        self.keep([entry])
        self.log = self.log.with_one(entry)
