"""`kilter adapt`: drivers, pads, supplies and filters that bring an old object to today's displays and mains."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from kilter.cli.adapt_text import design_text, notes_text
from kilter.cli.layout import as_json
from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity
from kilter.safety.adaptation.audio import AudioSource
from kilter.safety.adaptation.converter import Converter
from kilter.safety.adaptation.decoupling import NoiseLine
from kilter.safety.adaptation.design import WITHIN, Design
from kilter.safety.adaptation.netlist import design_netlist
from kilter.safety.adaptation.regulator import RegulatorWanted
from kilter.safety.adaptation.standards import Signal, signal_notes
from kilter.safety.adaptation.transformer import OtherMains
from kilter.safety.adaptation.video_circuit import VideoSource
from kilter.services.design_adaptation import (
    NOT_CHECKED,
    Request,
    composite_rates,
    design_adaptation,
    strongest_line,
)

HELP = "drivers, pads, supplies and filters for today's displays, amplifiers and mains"
DESCRIPTION = (
    "Designs what brings an old object to today's displays, amplifiers and mains: parts in preferred values, what they "
    "do over their tolerance, and ways to fit them with the least invasive first."
)
UNANSWERED = 3
DOING = "Cannot design the adaptation"


@dataclass(frozen=True)
class Asked:
    """One option: its flag, the unit of its value, its default ('' may be left out, None must be given), its help."""

    flag: str
    unit: str
    default: str | None
    words: str


@dataclass(frozen=True)
class Topic:
    """One thing to adapt: its name, what it is, its options, and how a request is made of them."""

    name: str
    words: str
    asked: tuple[Asked, ...]
    make: Callable[[argparse.Namespace], Request | Signal]
    circuit: bool = False


def options(parser: argparse.ArgumentParser) -> None:
    """One command for each thing to adapt."""
    topics = parser.add_subparsers(title="what to adapt", metavar="WHAT", required=True)
    for topic in TOPICS:
        one = topics.add_parser(topic.name, help=topic.words, description=f"Works out {topic.words}.")
        for asked in topic.asked:
            one.add_argument(asked.flag, metavar=asked.unit.upper() or "WORD", default=asked.default,
                             required=asked.default is None, help=asked.words.replace("%", "%%"))  # fmt: skip
        if topic.name == "video":
            one.add_argument("--coupled", action="store_true", help="a capacitor keeps the resting voltage away")
        if topic.name in ("decoupling", "signal"):
            one.add_argument("--capture", metavar="FILE", type=Path, help="take them from what 'kilter capture' printed"
                             " with --json")  # fmt: skip
        if topic.circuit:
            one.add_argument("--plot", metavar="DIR", type=Path, help="draw the response as SVG and PNG")
            one.add_argument("--netlist", metavar="FILE", type=Path, help="write the circuit as a SPICE netlist")
        one.add_argument("--json", action="store_true", help="print plain data instead of text")
        one.set_defaults(topic=topic)


def run(chosen: argparse.Namespace) -> int:
    """Prints the design; exit code 3 where something asked is not met or not known."""
    request = chosen.topic.make(chosen)
    if isinstance(request, Signal):
        notes = signal_notes(request)
        print(as_json(asdict(notes)) if chosen.json else notes_text(notes))
        return 0 if notes.standard else UNANSWERED
    made = design_adaptation(request)
    if getattr(chosen, "netlist", None):
        _write(chosen.netlist, design_netlist(made.title, made.elements))
    if getattr(chosen, "plot", None):
        from kilter.wiring.adaptation_plots import draw_response

        draw_response(made, chosen.plot)
    print(as_json(_data(made)) if chosen.json else design_text(made))
    return 0 if made.standing == WITHIN else UNANSWERED


def _given(chosen: argparse.Namespace, flag: str) -> str:
    return str(getattr(chosen, flag.removeprefix("--").replace("-", "_")))


def _number(chosen: argparse.Namespace, flag: str, unit: str) -> float:
    return float(read_quantity(_given(chosen, flag), unit).value)


def _maybe(chosen: argparse.Namespace, flag: str, unit: str) -> float | None:
    return _number(chosen, flag, unit) if _given(chosen, flag) else None


def _video(chosen: argparse.Namespace) -> Request:
    low, high, supply = (_number(chosen, flag, "V") for flag in ("--low", "--high", "--supply"))
    return VideoSource(low, high, _number(chosen, "--source", "ohm"), supply, _number(chosen, "--field", "Hz"),
                       chosen.coupled, _number(chosen, "--tilt", ""), _maybe(chosen, "--bandwidth", "Hz"))  # fmt: skip


def _audio(chosen: argparse.Namespace) -> Request:
    words: dict[str, bool | None] = {"": None, "yes": True, "no": False}
    if chosen.earthed not in words:
        raise BadInput(DOING, f"--earthed {chosen.earthed}", "yes or no", "Say which, or leave it away if unknown.")
    volts, wanted, rest = (_number(chosen, flag, "V") for flag in ("--level", "--wanted", "--rest"))
    return AudioSource(volts, _number(chosen, "--source", "ohm"), wanted, rest, _number(chosen, "--load", "ohm"),
                       _number(chosen, "--corner", "Hz"), words[chosen.earthed])  # fmt: skip


def _transformer(chosen: argparse.Namespace) -> Request:
    named = [one for one in chosen.plate_hertz.replace("/", ",").split(",") if one.strip()]
    return OtherMains(
        _number(chosen, "--plate", "V"), _number(chosen, "--mains", "V"), _number(chosen, "--draws", ""),
        _number(chosen, "--hertz", "Hz"), tuple(float(read_quantity(one, "Hz").value) for one in named),
    )  # fmt: skip


def _regulator(chosen: argparse.Namespace) -> Request:
    low, high, volts = (_number(chosen, flag, "V") for flag in ("--low", "--high", "--volts"))
    return RegulatorWanted(low, high, volts, _number(chosen, "--amps", "A"), _maybe(chosen, "--ambient", "degC"))


def _converter(chosen: argparse.Namespace) -> Request:
    volts, noise, wanted = (_number(chosen, flag, "V") for flag in ("--volts", "--noise", "--wanted"))
    return Converter(volts, _number(chosen, "--amps", "A"), noise, _number(chosen, "--hertz", "Hz"), wanted)


def _decoupling(chosen: argparse.Namespace) -> Request:
    hertz, volts = _maybe(chosen, "--hertz", "Hz"), _maybe(chosen, "--noise", "V")
    if chosen.capture and (hertz is not None or volts is not None):
        raise BadInput(DOING, "both --capture and --hertz or --noise", "one of the two", "Leave one away.")
    if chosen.capture:
        hertz, volts = strongest_line(_read(chosen.capture), chosen.channel)
    if hertz is None or volts is None:
        raise BadInput(DOING, "no line of noise", "--hertz and --noise, or --capture", "Give them.")
    return NoiseLine(hertz, volts, _number(chosen, "--wanted", "V"), _number(chosen, "--rail", "V"),
                     _number(chosen, "--amps", "A"), _maybe(chosen, "--source", "ohm"))  # fmt: skip


def _signal(chosen: argparse.Namespace) -> Signal:
    line, field, colour = (_maybe(chosen, flag, "Hz") for flag in ("--line", "--field", "--colour"))
    if chosen.capture:
        seen = composite_rates(_read(chosen.capture))
        line, field, colour = (mine if mine is not None else theirs
                               for mine, theirs in zip((line, field, colour), seen, strict=True))  # fmt: skip
    if line is None:
        raise BadInput("Cannot tell the standard of a signal", "no line rate", "--line, or --capture", "Give one.")
    return Signal(line, field, colour, chosen.display)


TOPICS = (
    Topic("video", "a driver for composite video into 75 ohm", (
        Asked("--low", "V", None, "the signal at the tip of sync, without load"),
        Asked("--high", "V", None, "the signal at white"),
        Asked("--source", "ohm", None, "its inner resistance"),
        Asked("--supply", "V", None, "supply of the driver"),
        Asked("--field", "Hz", "50 Hz", "field rate (50 Hz)"),
        Asked("--tilt", "share", "10 %", "over a field at most, where coupled (10 %)"),
        Asked("--bandwidth", "Hz", "", "to be passed (6 MHz)"),
    ), _video, circuit=True),
    Topic("audio", "a pad and a capacitor to a line input", (
        Asked("--level", "V", None, "of the object, rms without load"),
        Asked("--source", "ohm", None, "its inner resistance"),
        Asked("--wanted", "V", "0.3162 V", "at the input, rms (0.3162 V, which is -10 dBV)"),
        Asked("--rest", "V", "0 V", "resting voltage there (0 V)"),
        Asked("--load", "ohm", "10k", "of the input (10k)"),
        Asked("--corner", "Hz", "20 Hz", "lowest frequency (20 Hz)"),
        Asked("--earthed", "", "", "yes or no: both are joined to earth elsewhere"),
    ), _audio, circuit=True),
    Topic("transformer", "a transformer for an object made for another mains", (
        Asked("--plate", "V", None, "volts on the object's plate"),
        Asked("--mains", "V", None, "volts of the mains"),
        Asked("--draws", "VA", None, "what the plate says it draws, a plain number of VA"),
        Asked("--hertz", "Hz", None, "frequency of the mains"),
        Asked("--plate-hertz", "Hz", "", "all frequencies on the plate, as 60 or 50,60"),
    ), _transformer),
    Topic("regulator", "a linear regulator from a DC supply", (
        Asked("--low", "V", None, "lowest input, at the valley of its ripple"),
        Asked("--high", "V", None, "highest input"),
        Asked("--volts", "V", None, "output"),
        Asked("--amps", "A", None, "load"),
        Asked("--ambient", "degC", "", "air at it (40 degC)"),
    ), _regulator),
    Topic("converter", "a filter for the noise of a DC converter", (
        Asked("--volts", "V", None, "output"),
        Asked("--amps", "A", None, "load"),
        Asked("--noise", "V", None, "its ripple, peak to peak"),
        Asked("--hertz", "Hz", None, "its switching frequency"),
        Asked("--wanted", "V", None, "ripple that the object may see, peak to peak"),
    ), _converter, circuit=True),
    Topic("decoupling", "decoupling for a line of noise on a rail", (
        Asked("--rail", "V", None, "voltage of the rail"),
        Asked("--amps", "A", None, "current of the part to be kept quiet"),
        Asked("--wanted", "V", None, "noise that may be left, peak amplitude"),
        Asked("--hertz", "Hz", "", "frequency of the line"),
        Asked("--noise", "V", "", "its peak amplitude"),
        Asked("--channel", "", "", "of the capture, where several have lines"),
        Asked("--source", "ohm", "", "resistance of the rail, where known"),
    ), _decoupling, circuit=True),
    Topic("signal", "which display standard a signal is near, and what a display needs", (
        Asked("--line", "Hz", "", "line rate"),
        Asked("--field", "Hz", "", "field rate"),
        Asked("--colour", "Hz", "", "colour carrier"),
        Asked("--display", "", "", "625, 525 or 31k: what the display takes"),
    ), _signal),
)  # fmt: skip


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise BadInput(f"Cannot read the capture {path.name}", f"{type(error).__name__}: {error}",
                       "a file with what 'kilter capture FILE --json' printed",
                       "Write that into a file first.") from None  # fmt: skip


def _data(made: Design) -> dict[str, Any]:
    told = asdict(replace(made, elements=()))
    del told["elements"]
    for figure, one in zip(told["figures"], made.figures, strict=True):
        figure["standing"] = one.standing
    netlist = design_netlist(made.title, made.elements) if made.elements else ""
    return {**told, "cautions": [*made.cautions, NOT_CHECKED], "standing": made.standing, "netlist": netlist}


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise BadInput("Cannot write the netlist", f"'{path}': {error.strerror}", "a new file that can be written",
                       "Name another file with --netlist.") from None  # fmt: skip
