"""The command line: what each command takes, and one clear line when something is wrong."""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

from buildtrack import __version__

UNUSABLE = 2
"""Exit code for input that cannot be used (0: cleared or done, 1: findings)."""

ENDS = ("Exit codes: 0 cleared or done, 1 findings or mistakes (check, review, lint), 2 input that cannot be used, "
        "130 stopped with Ctrl-C.")
"""What every page of help ends with."""

Action = Callable[[argparse.Namespace], int]


def _later(module: str, function: str) -> Action:
    """An action that is imported only when its command is used, so that others start at once."""

    def act(options: argparse.Namespace) -> int:
        action: Action = getattr(import_module(f"buildtrack.console.{module}"), function)
        return action(options)

    return act


def _either(option: str, wanted: Action, usual: Action) -> Action:
    """One action where an option is given, the other where it is not."""
    return lambda options: wanted(options) if getattr(options, option) else usual(options)


def _file(parser: argparse.ArgumentParser, name: str = "file", what: str = "the build file") -> None:
    parser.add_argument(name, type=Path, metavar=name.upper(), help=what)


def _json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON for programs")


def _judging(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    check = commands.add_parser("check", help="judge a build: exit 0 cleared, 1 findings, 2 unusable input")
    _file(check)
    _json(check)
    check.set_defaults(action=_later("judge", "check"))
    show = commands.add_parser("show", help="print a build line by line: items, workings, checks")
    _file(show)
    show.add_argument("--step", help="only this step")
    show.set_defaults(action=_later("show", "show"))
    review = commands.add_parser("review", help="the reviewer's questions, each answered from the record")
    _file(review)
    _json(review)
    review.set_defaults(action=_later("review", "review"))
    forecast = commands.add_parser("forecast", help="what the computed pack should do in the discharge test")
    _file(forecast)
    _json(forecast)
    forecast.set_defaults(action=_later("numbers", "forecast"))


def _building(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    new = commands.add_parser("new", help="start a build file")
    _file(new)
    new.add_argument("--title", default="", help="what is rebuilt (default: the file's name)")
    new.add_argument("--maker", default="", help="who builds")
    new.add_argument("--checklist", default="", help="which checklist (at a terminal it is asked; see: checklists)")
    new.add_argument("--from", dest="past", type=Path, metavar="PAST", help="carry the design over from a past build")
    new.set_defaults(action=_later("builds", "new"))
    enter = commands.add_parser("enter", help="enter one reading without the screen")
    _file(enter)
    enter.add_argument("item", help="id of the item (buildtrack show prints them)")
    enter.add_argument("text", help="what the instrument shows, the answer, or yes/no")
    enter.add_argument("--row", default="", help="row of a table; a new name makes one where their number is free")
    enter.add_argument("--column", default="", help="column of a table")
    enter.add_argument("--with", dest="instrument", default="", help="instrument of the build's list")
    enter.add_argument("--note", default="")
    enter.add_argument("--by", default="", help="who enters")
    enter.add_argument("--accept", default="", metavar="REASON", help="take an unusual value, with the reason")
    enter.add_argument("--replace", action="store_true", help="put it in the place of a reading at a hold point")
    enter.set_defaults(action=_later("enter", "enter"))
    sample = commands.add_parser("sample", help="copy the invented sample builds to look at")
    sample.add_argument("name", nargs="?", default="", help="which one (default: list them)")
    sample.add_argument("-d", "--folder", type=Path, default=Path("."), help="where to put the copy")
    sample.set_defaults(action=_later("builds", "sample"))
    lists = commands.add_parser("checklists", help="list the checklists and what they are for")
    lists.set_defaults(action=_later("builds", "checklists"))
    lint = commands.add_parser("lint", help="name every mistake in a checklist, with its line")
    lint.add_argument("files", nargs="+", type=Path, metavar="FILE", help="the checklist files")
    lint.set_defaults(action=_later("lint", "lint"))


def _records(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    record = commands.add_parser("record", help="write the PDF build record")
    _file(record)
    record.add_argument("-o", "--output", type=Path, help="where to (default: beside the build file)")
    record.add_argument("--paper", choices=("A4", "Letter"), default="A4")
    record.add_argument("--html", action="store_true", help="one self-contained HTML file instead of a PDF")
    record.add_argument("--ua", action="store_true", help="tagged PDF/UA instead of PDF/A-3b")
    record.add_argument("--progress", action="store_true", help="say what is being done on standard error")
    record.set_defaults(action=_later("records", "record"))
    label = commands.add_parser("label", help="the label for the pack, as text or as a PDF page")
    _file(label)
    label.add_argument("-o", "--output", type=Path, help="write a PDF page to cut out")
    label.add_argument("--paper", choices=("A4", "Letter"), default="A4")
    label.set_defaults(action=_later("records", "label"))
    parts = commands.add_parser("parts", help="parts list as CSV")
    _file(parts)
    parts.add_argument("-o", "--output", type=Path)
    parts.set_defaults(action=_later("records", "parts"))
    restore = commands.add_parser("restore", help="get a kept copy of a damaged build file back, as a new file")
    _file(restore)
    restore.add_argument("--copy", type=int, metavar="N",
                         help="which copy: 1 is the latest (default); one of another file with the same id only so")
    restore.add_argument("--list", action="store_true", help="only list the copies")
    restore.set_defaults(action=_later("restore", "restore"))
    unpack = commands.add_parser("unpack", help="take the build file and its logs back out of a PDF record")
    _file(unpack, "pdf", "the PDF record")
    unpack.add_argument("-d", "--folder", type=Path, default=Path("."))
    unpack.set_defaults(action=_later("records", "unpack"))


def _numbers(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    log = commands.add_parser("log", help="read a discharge log (CSV) and say what is in it")
    _file(log, what="the logger's file, or a build file: its attached logs")
    _json(log)
    log.add_argument("--map", action="append", default=[], metavar="WHAT=COLUMN",
                     help="set a column by hand, like current=3, current=3:mA, voltage='U[V]', groups=4+5+6 or "
                          "positive=charge; kept in a build file (auto: as told from the file)")
    log.add_argument("--item", default="", help="of a build file: which log (default: discharge_log)")
    log.add_argument("--by", default="", help="who sets the columns")
    log.set_defaults(action=_later("logs", "log"))
    log.add_argument("--follow", action="store_true", 
                     help="while the logger writes: a line of numbers at each look; Ctrl-C ends")
    log.add_argument("--every", default="", metavar="TIME", help="with --follow: between two looks (default: 5 s)")
    log.add_argument("--alarm", default="", metavar="VOLTAGE", help="with --follow: time until a group is there")
    log.set_defaults(action=_either("follow", _later("follow", "follow"), log.get_default("action")))
    cells = commands.add_parser("cells", help="group cells from a CSV file into series groups")
    _file(cells, "csv", "id, capacity and resistance, one cell a line")
    cells.add_argument("--series", type=int, required=True)
    cells.add_argument("--parallel", type=int, required=True)
    _json(cells)
    cells.set_defaults(action=_later("numbers", "cells"))


def _shelf(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    shelf = commands.add_parser("shelf", help="list the builds of a folder")
    shelf.add_argument("folder", nargs="?", type=Path, default=Path("."),
                       help="the folder (default: the one you are in); those up to two below it are looked into too")
    _json(shelf)
    shelf.set_defaults(action=_later("shelf", "shelf"))
    compare = commands.add_parser("compare", help="two builds side by side")
    _file(compare, "first", "a build file")
    _file(compare, "second", "the one to hold against it")
    compare.add_argument("--differences", action="store_true", help="only what differs")
    compare.set_defaults(action=_later("shelf", "compare"))


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="buildtrack", description="Rebuild a nickel tool pack as lithium-ion, step by step. Without a command: "
        "open FILE on the full-screen bench (without one: a sample the first time, then ways to begin).")
    top.add_argument("--version", action="version", version=f"buildtrack {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND")
    opened = commands.add_parser("open", help="open a build on the bench (the same as naming the file alone)")
    opened.add_argument("file", nargs="?", type=Path, help="the build file, or a folder to see its shelf")
    opened.add_argument("--read-only", action="store_true", help="look only")
    opened.set_defaults(action=_later("screen", "open_bench"))
    for part in (_building, _judging, _records, _numbers, _shelf):
        part(commands)
    for each in (top, *commands.choices.values()):
        each.epilog = ENDS
    return top


def _spelled_out(arguments: Sequence[str], known: frozenset[str]) -> list[str]:
    """`buildtrack FILE` means `buildtrack open FILE`."""
    first = next((a for a in arguments if not a.startswith("-")), None)
    if first is None and not arguments:
        return ["open"]
    if first is not None and first not in known and arguments[0] == first:
        return ["open", *arguments]
    return list(arguments)


def commands_of(top: argparse.ArgumentParser) -> frozenset[str]:
    """Names of all commands."""
    found = next(a for a in top._actions if isinstance(a, argparse._SubParsersAction))
    return frozenset(found.choices)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; every refusal is one line on standard error and exit code 2."""
    top = parser()
    options = top.parse_args(_spelled_out(sys.argv[1:] if arguments is None else arguments, commands_of(top)))
    try:
        return int(options.action(options))
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # whoever read our output has gone: that is fine
        return 0
    except KeyboardInterrupt:
        print("buildtrack: stopped", file=sys.stderr)
        return 130
    except (ValueError, OSError) as error:
        print(f"buildtrack: {_one_line(error)}", file=sys.stderr)
        return UNUSABLE


def _one_line(error: Exception) -> str:
    if isinstance(error, OSError) and error.filename is not None:
        said = f"{error.filename}: {_reason(error)}"
    else:
        said = " ".join(str(error).split())
    return "".join(c if c.isprintable() else "·" for c in said)


_WORDS = {errno.ENOENT: "there is no such file or folder", errno.EISDIR: "this is a folder, not a file",
          errno.ENOTDIR: "a file stands where a folder was named", errno.EEXIST: "there is a file of this name already"}
"""What is said of a name given on the command line where nothing of that kind is there."""


def _reason(error: OSError) -> str:
    """Why a file or folder cannot be used, in the words of the program; the system's own where it has none."""
    from buildtrack.storage.durable import reason

    if not isinstance(error, PermissionError):
        return _WORDS.get(error.errno or 0) or reason(error)
    path = Path(os.fsdecode(error.filename))
    closed = os.path.lexists(path) and not os.access(path, os.R_OK) or not os.access(path.parent, os.X_OK)
    return reason(error, reading=closed)
