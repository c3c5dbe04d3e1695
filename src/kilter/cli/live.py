"""`kilter live`: instruments on the network, USB or a serial line; and logs that meters wrote."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.cli.readings_text import readings_csv, write_readings
from kilter.importers.meter_log import read_meter_logs
from kilter.live.connection import BACKEND, connect, listed
from kilter.live.log_file import LogFile
from kilter.live.profiles import families, limit, scope_profile, value_profile
from kilter.live.scope import grab_trace
from kilter.live.trace_file import write_trace
from kilter.measure.errors import BadInput, OutOfRange
from kilter.measure.measured import Measured, engineering
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading
from kilter.services.channel_places import place_named
from kilter.services.read_live import log_values, read_value
from kilter.services.read_logic_capture import state_of
from kilter.services.read_meter_log import reading_of_log
from kilter.signals.meter_log import MeterLog, steadiness
from kilter.wiring.loading import load_board

HELP = "read instruments that are plugged in; look at meter logs"
DESCRIPTION = (
    "Reads meters, supplies and oscilloscopes that speak SCPI (extra 'live'), logs them so that nothing is lost, and "
    "looks at logs that meters wrote. It sets no output and no range of a meter by itself beyond what 'MEASure' does."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to do", metavar="WHAT", required=True)
    seen = kinds.add_parser("list", help="addresses of the instruments that show themselves, and command families")
    seen.set_defaults(live=_list)
    value = kinds.add_parser("read", help="one value, as a reading of a board")
    _instrument_options(value, "meters")
    value.add_argument("--quantity", default="voltage", help="what to read (voltage)")
    value.set_defaults(live=_read)
    trace = kinds.add_parser("trace", help="the trace of an oscilloscope, as a file")
    trace.add_argument("address", metavar="ADDRESS", help="VISA address")
    trace.add_argument("--family", default="preamble", help=f"{', '.join(families('scopes'))} (preamble)")
    trace.add_argument("--out", metavar="FILE", type=Path, required=True, help="new CSV file for time and volts")
    trace.set_defaults(live=_trace)
    log = kinds.add_parser("log", help="values of a meter or supply, again and again, into a file")
    log.add_argument("address", metavar="ADDRESS", help="VISA address")
    log.add_argument("--supply", action="store_true", help="it is a supply")
    log.add_argument("--family", default="measure", help="command family; 'kilter live list' shows them (measure)")
    log.add_argument("--quantity", default="voltage", help="what to log, with commas (voltage)")
    log.add_argument("--every", metavar="SECONDS", type=float, default=1.0, help="pause between rounds (1)")
    log.add_argument("--entries", metavar="N", type=int, default=60, help="rounds (60)")
    log.add_argument("--out", metavar="FILE", type=Path, required=True, help="log file; an earlier one is continued")
    log.set_defaults(live=_log)
    look = kinds.add_parser("look", help="how steady a meter's log is, and the reading it amounts to")
    look.add_argument("log", metavar="LOG", type=Path, help="CSV that a meter or 'kilter live log' wrote")
    look.add_argument("--quantity", default="", help="what was read, where the unit does not tell")
    look.set_defaults(live=_look)
    for one in (value, look):
        one.add_argument("--board", metavar="BOARD", help="board that was measured")
        one.add_argument("--point", default="", help="where: a point, net or pin")
        one.add_argument("--state", default="", help="state the object was in")
        one.add_argument("--class", dest="tool", default="", help="class of the instrument; 'kilter kinds instruments'")
        one.add_argument("--readings", metavar="FILE", type=Path, help="write the reading to this file, or add it")
    for one in (value, trace, log):
        one.add_argument("--channel", type=int, default=1, help="channel or output (1)")
    for one in (seen, value, trace, log):
        one.add_argument("--backend", default=BACKEND, help="backend of PyVISA (@py, pure Python)")
    for one in (seen, value, trace, log, look):
        one.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    code: int = chosen.live(chosen)
    return code


def _instrument_options(parser: argparse.ArgumentParser, group: str) -> None:
    parser.add_argument("address", metavar="ADDRESS", help="VISA address, as TCPIP::192.0.2.7::5025::SOCKET")
    parser.add_argument("--family", default="measure", help=f"{', '.join(families(group))} (measure)")


def _list(chosen: argparse.Namespace) -> int:
    addresses = listed(backend=chosen.backend)
    known = {group: dict(families(group)) for group in ("meters", "supplies", "scopes")}
    if chosen.json:
        print(as_json({"addresses": list(addresses), "families": known}))
        return 0
    print(heading("seen"))
    print(
        columns([(one,) for one in addresses]) if addresses else "  none; instruments on the network mostly do not show"
    )
    for group, entries in known.items():
        print(heading(f"families of {group}"))
        print(columns(entries.items()))
    return 0


def _read(chosen: argparse.Namespace) -> int:
    query = value_profile("meters", chosen.family).query(chosen.quantity, chosen.channel)
    point, state = _place(chosen, quantity(chosen.quantity).powered)
    with connect(chosen.address, backend=chosen.backend) as meter:
        name = meter.identify()
        reading = read_value(meter, query, point=point, quantity_key=chosen.quantity, state=state,
                             instrument_key=chosen.tool)  # fmt: skip
    return _show(chosen, [reading], {"instrument": name})


def _place(chosen: argparse.Namespace, powered: bool | None) -> tuple[str, str]:
    """Point and state on the board; without a board both as they were typed."""
    if not chosen.board:
        return chosen.point, chosen.state
    board = load_board(chosen.board)
    if powered or chosen.state == "":
        fitting = [state.name for state in board.states.values() if powered in (None, state.powered)]
        state = chosen.state or (fitting[0] if len(fitting) == 1 else state_of(board, "").name)
    else:
        state = board.state(chosen.state).name
    return place_named(chosen.point, board), state


def _trace(chosen: argparse.Namespace) -> int:
    profile = scope_profile(chosen.family)
    with connect(chosen.address, backend=chosen.backend) as scope:
        name = scope.identify()
        wave = grab_trace(scope, profile, chosen.channel)
    write_trace(chosen.out, wave)
    low, high = float(wave.values.min()), float(wave.values.max())
    if chosen.json:
        print(as_json({"instrument": name, "samples": len(wave.values), "interval": wave.interval, "lowest": low,
                       "highest": high, "warnings": list(wave.warnings), "file": str(chosen.out)}))  # fmt: skip
    else:
        span = f"{engineering(low, 'V')} to {engineering(high, 'V')}"
        print(f"{name}: {len(wave.values)} samples of {wave.name}, {span}, written to {chosen.out}.")
        for words in wave.warnings:
            print(wrapped(f"! {words}", 2, 2))
    return 3 if wave.warnings else 0


def _log(chosen: argparse.Namespace) -> int:
    if not (chosen.entries >= 1 and 0 <= chosen.every <= 86400):
        raise OutOfRange("Cannot log", f"{chosen.entries} rounds every {chosen.every:g} s",
                         "1 round or more, every 0 to 86400 s", "Correct --entries or --every.")  # fmt: skip
    profile = value_profile("supplies" if chosen.supply else "meters", chosen.family)
    wanted = [word.strip() for word in chosen.quantity.split(",") if word.strip()]
    questions = {key: profile.query(key, chosen.channel) for key in wanted}
    file = LogFile(chosen.out, wanted)
    with connect(chosen.address, backend=chosen.backend) as source:
        name = source.identify()
        count = log_values(source, questions, file.keep, entries=chosen.entries, every_s=chosen.every, wait=time.sleep,
                           tries=int(limit("tries")))  # fmt: skip
    missing = chosen.entries * len(questions) - count
    told = {"instrument": name, "values": count, "missing": missing, "file": str(chosen.out)}
    print(as_json(told) if chosen.json else f"{name}: {count} values in {chosen.out}, {missing} missing.")
    return 3 if missing else 0


def _look(chosen: argparse.Namespace) -> int:
    logs = read_meter_logs(chosen.log)
    if chosen.board:
        one = _chosen_log(logs, chosen.quantity)
        board = load_board(chosen.board)
        found = reading_of_log(one, board, chosen.point, quantity_key=chosen.quantity, instrument_key=chosen.tool,
                               state=chosen.state)  # fmt: skip
        return _show(chosen, [found.reading], {"logs": [_figures(one) for one in logs]})
    if chosen.json:
        print(as_json({"logs": [_figures(one) for one in logs]}))
        return 0
    for one in logs:
        print(_log_text(one))
    return 0


def _chosen_log(logs: tuple[MeterLog, ...], key: str) -> MeterLog:
    """The log of a quantity, or the only one."""
    fitting = [one for one in logs if key and one.unit == quantity(key).unit] or list(logs)
    if len(fitting) == 1:
        return fitting[0]
    found = f"{len(fitting)} columns: {', '.join(one.source for one in fitting)}"
    do_next = "Name the quantity with --quantity."
    raise BadInput("Cannot choose a column of the log", found, "one column for the quantity", do_next)


def _figures(log: MeterLog) -> dict[str, object]:
    found = steadiness(log)
    return {
        "log": log.source, "unit": log.unit, "entries": found.entries, "over_limit": found.over_limit,
        "mean": found.mean.value, "spread": found.mean.uncertainty, "lowest": found.lowest, "highest": found.highest,
        "last": found.last, "hours": found.hours, "drifts": found.drifts,
        "drift_per_hour": found.drift.value if found.drift else None,
        "drift_uncertainty": found.drift.uncertainty if found.drift else None, "warnings": list(log.warnings),
    }  # fmt: skip


def _log_text(log: MeterLog) -> str:
    found = steadiness(log)
    low, high = engineering(found.lowest, log.unit), engineering(found.highest, log.unit)
    said = [f"{log.source}: {found.entries} values, mean {found.mean}, {low} to {high}; {found.over_limit} over limit."]
    if found.drift is None:
        said.append(wrapped("Drift cannot be told.", 2))
    else:
        slope = Measured(found.drift.value, log.unit, found.drift.uncertainty)
        kind = "drifts" if found.drifts else "no drift beyond the scatter"
        said.append(wrapped(f"{kind}: {slope} an hour.", 2))
    return "\n".join([*said, *(wrapped(f"! {words}", 2, 2) for words in log.warnings)])


def _show(chosen: argparse.Namespace, readings: list[Reading], more: dict[str, object]) -> int:
    if chosen.readings:
        write_readings(chosen.readings, readings)
    if chosen.json:
        told = [{"point": one.point, "quantity": one.quantity, "value": one.value, "uncertainty": one.uncertainty,
                 "state": one.state, "instrument": one.instrument, "time": one.time, "note": one.note}
                for one in readings]  # fmt: skip
        print(as_json({**more, "readings": told}))
    else:
        print(readings_csv(readings), end="")
    return 0
