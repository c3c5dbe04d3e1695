"""The dialogue of a bench session: what is shown, and what each line that is typed does."""

from __future__ import annotations

from collections.abc import Callable
from typing import TextIO

from kilter.cli.diagnosis_text import diagnosis_text
from kilter.cli.layout import wrapped
from kilter.cli.next_text import advice_lines
from kilter.diagnose.ask import Advice
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.services.bench import DEEDS, BenchSession, line_words
from kilter.services.wording import asked, percent, said

HELP = """\
  VALUE                the answer to the test shown, in bench notation: 4.98 V, 4k7, OL, low;
                       a question mark after it ('4.98 V ?') says that you would not stake much on it
  r POINT VALUE @STATE another reading; put the quantity's name before the value where its unit does not say it
  d renewed C1         what was done to the object: renewed, unplugged, plugged (parts), lifted (a pin, as C1.1)
  p NAME               the checks before switching on were passed, by this person, now
  n NAME: REASON       this person goes on without them, for this reason; both stay in the file
  s WHY                skip this test for the rest of the visit
  l                    list the next tests
  w                    why: the whole diagnosis
  u                    undo the last entry (it stays in the file, marked as taken back)
  ?                    this help
  q                    leave; everything is already kept"""

SHORT = "Type the reading, or: ? help, w why, l list, s skip, d done, u undo, p power checks, q leave."
LISTED = 8


class Dialogue:
    """
    One session between a person, or a pipe, and the asker.

    Args:
        session: The visit.
        asked: Where lines are typed.
        told: Where answers go.
    """

    def __init__(self, session: BenchSession, asked: TextIO, told: TextIO) -> None:
        self.session, self.asked, self.told = session, asked, told
        self.verbs: dict[str, Callable[[str], None]] = {
            "?": self._help,
            "r": self._read,
            "d": self._done,
            "p": self._pass_checks,
            "n": self._waive_checks,
            "s": self._skip,
            "l": self._list,
            "w": self._why,
            "u": self._undo,
        }

    def hold(self) -> None:
        """Goes on until the person leaves or the lines end."""
        self._say(self.session.diagnosis().visit.board.name)
        self._say(SHORT)
        self._show()
        while (line := self._next_line()) is not None:
            if line:
                self._take(line)

    def _next_line(self) -> str | None:
        """The next line; None at the end."""
        self.told.write("> ")
        self.told.flush()
        line = self.asked.readline()
        if not self.asked.isatty():
            self.told.write(line if line.endswith("\n") else f"{line}\n")  # a transcript shows what was typed
        return None if not line or line.strip() == "q" else line.strip()

    def _take(self, line: str) -> None:
        verb, _, rest = line.partition(" ")
        try:
            if verb in self.verbs:
                self.verbs[verb](rest.strip())
            else:
                self._answer(line)
        except BadInput as error:
            self._say(f"{error}")

    def _answer(self, text: str) -> None:
        offer = self._offer()
        if offer is None:
            raise BadInput("Cannot take this line", f"'{text}' while no test is shown", "r POINT VALUE, or ? for help",
                           "Say where it was read.")  # fmt: skip
        doubtful = text.endswith("?")
        reading = self.session.answer(offer, text.rstrip("? "), doubtful=doubtful)
        self._say(f"Noted: {asked(reading)} {said(reading)}{' (doubtful)' if doubtful else ''}.")
        self._show()

    def _read(self, rest: str) -> None:
        reading = self.session.read(line_words(rest))
        self._say(f"Noted: {asked(reading)} {said(reading)} in state '{reading.state}'.")
        self._show()

    def _done(self, rest: str) -> None:
        what, _, where = rest.partition(" ")
        if what not in DEEDS or not where.strip():
            raise BadInput("Cannot take what was done", f"'{rest}'", f"{', '.join(DEEDS)} and a part or pin",
                           "Write it like 'd renewed C1'.")  # fmt: skip
        self.session.read({"point": where.strip(), "quantity": "done", "value": what})
        self._say(f"Noted: {where.strip()} {what}. The power checks have to be passed again before power is used.")
        self._show()

    def _pass_checks(self, who: str) -> None:
        self.session.pass_checks(who)
        self._say(f"Noted: power checks passed, {self.session.who}, {self.session.log.entries[-1].time}.")
        self._show()

    def _waive_checks(self, rest: str) -> None:
        who, _, why = rest.partition(":")
        self.session.waive_checks(who.strip(), why.strip())
        self._say(f"Noted: power checks waived by {self.session.who}: {why.strip()}. They were not done.")
        self._show()

    def _skip(self, why: str) -> None:
        offer = self._offer()
        if offer is not None:
            self.session.skip(offer, why)
            self._say(f"Skipped: {offer.test.quantity} at {offer.test.point}.")
        self._show()

    def _undo(self, _: str) -> None:
        entry = self.session.undo()
        if entry is None:
            self._say("There is nothing to undo.")
            return
        told = [entry.words[key] for key in ("point", "quantity", "value") if key in entry.words]
        self._say(f"Taken back: entry {entry.number}, {entry.kind} {' '.join(told)}".rstrip() + ".")
        self._show()

    def _list(self, _: str) -> None:
        for number, advice in enumerate(self.session.offers()[:LISTED], 1):
            for line in advice_lines(self.session.diagnosis(), advice, f"{number}. "):
                self._say(line)

    def _why(self, _: str) -> None:
        self._say(diagnosis_text(self.session.diagnosis()))

    def _help(self, _: str) -> None:
        self._say(HELP)
        offer = self._offer()
        if offer is not None and quantity(offer.test.quantity).categories:
            self._say(f"Words for this test: {', '.join(quantity(offer.test.quantity).categories)}.")
        if not self.session.log.power_checks:
            self._checks()

    def _checks(self) -> None:
        """What a person goes through before power is switched on."""
        checks = table("power_checks")
        self._say("\nBefore switching on:")
        for one in checks["checks"]:
            self._say(wrapped(f"- {one['words']}", 2, 2))
        self._say(wrapped(checks["limits"]["words"]))
        self._say(wrapped("'kilter switch-on' tells what every rail should read, and the current limits of a ramp."))

    def _show(self) -> None:
        """Where things stand, and the next test."""
        diagnosis, offer = self.session.diagnosis(), self._offer()
        lead = [f"{one.part} {percent(one.probability)}" for one in diagnosis.suspects[:4]]
        lead.append(f"nothing wrong now {percent(diagnosis.posterior.healthy)}")
        lead.append(f"not in the model {percent(diagnosis.posterior.not_in_model)}")
        self._say(f"\n{', '.join(lead)}.")
        if diagnosis.decision.action != "test":
            self._say(wrapped(diagnosis.decision.words))
        if not self.session.log.power_checks and any(one.powered for one in diagnosis.visit.states_now()):
            self._say("Tests with power on wait for the power checks: '?' lists them, 'p NAME' says they are passed.")
        if offer is None:
            self._say("No test that is open now would tell anything more.")
            return
        state = diagnosis.visit.board.states[offer.test.state]
        for line in advice_lines(diagnosis, offer, "Next: "):
            self._say(line)
        if state.label:
            self._say(wrapped(f"state '{diagnosis.visit.plain[state.name]}': {state.label}", 5, 2))

    def _offer(self) -> Advice | None:
        return next(iter(self.session.offers()), None)

    def _say(self, words: str) -> None:
        print(words, file=self.told)
