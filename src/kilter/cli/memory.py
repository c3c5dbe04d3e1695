"""`kilter memory`: the fault of a memory from a dump or a march test, and march tests as plain steps."""

from __future__ import annotations

import argparse
from math import exp, log
from pathlib import Path
from typing import Any

from kilter.cli.layout import as_json, bar, columns, heading, wrapped
from kilter.importers.march_fails import read_fails
from kilter.importers.memory_bank import read_bank
from kilter.importers.memory_dump import read_dump
from kilter.services.memory_faults import MemoryReport, NamedFault, explain_dump, explain_fails, listing
from kilter.services.wording import percent
from kilter.signals.memory.fail_entries import Setting
from kilter.signals.memory.march import march_test, march_tests

HELP = "faults of a memory from a dump or a march test"
DESCRIPTION = "Compares dumps with a known-good image, weighs the fail list of a march test, or prints a march test."
UNANSWERED = 3
NAMED, NAMED_FROM = 12, 2.0
"""Most failure modes listed, and the factor on the odds from which one is."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to look at", metavar="WHAT", required=True)
    dump = kinds.add_parser("dump", help="compare one or more reads of a memory with the image it should hold")
    dump.add_argument("image", metavar="IMAGE", type=Path, help="known-good contents, a binary file")
    dump.add_argument("reads", metavar="READ", type=Path, nargs="+", help="dumps of the same memory, binary files")
    dump.add_argument("--big-endian", action="store_true", help="words of 16 or 32 bits have their high byte first")
    dump.add_argument("--erased", type=int, choices=(0, 1), default=1, help="value of an erased bit (1)")
    dump.set_defaults(memory=_dump)
    fails = kinds.add_parser("fails", help="weigh the fail list of a march test")
    fails.add_argument("fails", metavar="FAILS", type=Path, help="CSV: address,expected,read and perhaps element")
    _test_options(fails)
    fails.add_argument("--words", type=_number, required=True, help="number of words of the memory, as 0x4000")
    fails.set_defaults(memory=_fails)
    march = kinds.add_parser("march", help="print a march test as plain steps")
    _test_options(march)
    march.set_defaults(memory=_march)
    for one in (dump, fails):
        one.add_argument("--bank", type=Path, help="where the chips sit (TOML), to name parts and pins")
        one.add_argument("--chip", default="", help="the chip of the bank that was read alone, out of its board")
    for one in (dump, fails, march):
        one.add_argument("--width", type=int, default=8, help="data lines: 1, 4, 8, 16 or 32 (8)")
        one.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    code: int = chosen.memory(chosen)
    return code


def _test_options(parser: argparse.ArgumentParser) -> None:
    names = ", ".join(march_tests())
    parser.add_argument("--test", default="march-c-", help=f"{names}, or a notation in braces (march-c-)")
    parser.add_argument("--background", type=_number, default=0, help="word that stands for 0 (0)")


def _number(word: str) -> int:
    try:
        return int(word, 0)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{word}' is no whole number such as 16384 or 0x4000") from None


def _dump(chosen: argparse.Namespace) -> int:
    paths = (chosen.image, *chosen.reads)
    image, *reads = (read_dump(path, chosen.width, big_endian=chosen.big_endian) for path in paths)
    bank = read_bank(chosen.bank) if chosen.bank else None
    found = explain_dump(image, reads, bank=bank, chip=chosen.chip, erased=chosen.erased)
    return _show(found, chosen.json)


def _fails(chosen: argparse.Namespace) -> int:
    setting = Setting(march_test(chosen.test), chosen.words, chosen.width, chosen.background)
    bank = read_bank(chosen.bank) if chosen.bank else None
    return _show(explain_fails(read_fails(chosen.fails), setting, bank=bank, chip=chosen.chip), chosen.json)


def _march(chosen: argparse.Namespace) -> int:
    test = march_test(chosen.test)
    steps = listing(test, width=chosen.width, background=chosen.background)
    if chosen.json:
        print(as_json({"test": test.name, "accesses_per_word": test.length, "source": test.source, "steps": steps}))
        return 0
    print(heading(f"{test.name}: {test.length} accesses of every word"))
    for step in steps:
        print(wrapped(step, indent=2, hang=2))
    return 0


def _show(found: MemoryReport, plain: bool) -> int:
    if plain:
        print(as_json(_plain(found)))
    else:
        _print(found)
    return 0 if found.answered else UNANSWERED


def _print(found: MemoryReport) -> None:
    if found.comparison:
        told = found.comparison
        print(f"{told.words} words compared: {told.wrong_words} differ, in {told.counts.wrong} bits.")
    print(heading("what explains it"))
    for at, one in enumerate(found.faults, 1):
        print(f"  {at:2d} {bar(one.probability)} {percent(one.probability):>10}  {one.words}")
        print(wrapped(_details(one), indent=7))
    print(f"     not named: {percent(found.rest)}; none of the faults it knows: {percent(found.not_in_model)}")
    print(heading("notes"))
    for note in found.notes:
        print(wrapped(note, indent=2, hang=2))
    if found.factors:
        _print_parts(found.factors)


def _print_parts(factors: dict[tuple[str, str], float]) -> None:
    """Modes that it speaks for, by name; of those that it speaks against, how many."""
    print(heading("what it says about parts (factor on the odds of a failure mode)"))
    ranked = sorted(factors.items(), key=lambda item: (-item[1], item[0]))
    named = [(mode, ratio) for mode, ratio in ranked if ratio >= log(NAMED_FROM)][:NAMED]
    rows = [(f"{exp(ratio):.3g}", " ".join(mode)) for mode, ratio in named]
    print(columns(rows) if rows else "  It speaks for no failure mode.")
    against = sum(ratio <= -log(NAMED_FROM) for ratio in factors.values())
    others = len(factors) - against - len(rows)
    print(wrapped(f"Against {against} modes; hardly either way, or not listed: {others}.", 2))


def _details(one: NamedFault) -> str:
    words = []
    if one.wrong:
        words.append(f"{one.wrong:g} bits stay unexplained.")
    if one.parts:
        at = (ref + (f" pin {' and '.join(pins)}" if pins else "") for ref, pins in one.parts)
        words.append(f"At {', '.join(at)}.")
    if one.tied:
        words.append(f"Cannot be told from number {_runs(one.tied)}.")
    return " ".join([*words, one.next])


def _runs(numbers: tuple[int, ...]) -> str:
    """
    Ascending numbers, with runs of three or more shortened.

    >>> _runs((1, 3, 4, 5, 8))
    '1, 3 to 5, 8'
    """
    runs: list[list[int]] = []
    for one in numbers:
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def _plain(found: MemoryReport) -> dict[str, Any]:
    told = found.comparison
    return {
        "faults": [
            {"words": one.words, "kind": one.kind, "probability": one.probability, "unexplained_bits": one.wrong,
             "parts": [{"part": ref, "pins": list(pins)} for ref, pins in one.parts], "tied_with": list(one.tied),
             "next": one.next}
            for one in found.faults
        ],
        "rest": found.rest,
        "not_in_model": found.not_in_model,
        "notes": list(found.notes),
        "evidence": [{"part": part, "mode": mode, "log_ratio": ratio} for (part, mode), ratio in found.factors.items()],
        "words": told.words if told else None,
        "words_that_differ": told.wrong_words if told else None,
        "unstable_bits": told.unstable_bits if told else None,
    }  # fmt: skip
