"""The command line, a thin one: each command reads its arguments, calls the library and writes what came of it."""

import argparse
import contextlib
import os
import stat
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from rs485kit import __version__
from rs485kit.errors import InputError, Problem, UnknownNameError

if TYPE_CHECKING:
    from rs485kit.model import Bus, Policy

PASSED, FAILED, WRONG_INPUT, INCOMPLETE, INTERNAL, INTERRUPTED = 0, 1, 2, 3, 4, 130
WIDTH = 100
FORMATS = ("text", "markdown", "html", "json")
_STATUSES = (
    "exit status: 0 passed; 1 a checked requirement failed; 2 wrong input or usage; 3 no failure, but something could "
    "not be judged or did not run; 4 an internal error"
)


class Outcome(NamedTuple):
    """How a command ended: the exit status, and why where it is not 0."""

    status: int
    why: str = ""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str or None
        The arguments; None: those of the process [-].

    Returns
    -------
    int
        The exit status [-].
    """
    try:
        outcome = _outcome(arguments)
    except KeyboardInterrupt:
        return INTERRUPTED
    except BaseException as error:
        # SystemExit too: what a plugin raises must not choose the exit status of a check
        outcome = Outcome(INTERNAL, _kept(error))
    if outcome.status != PASSED:
        _say(f"exit status {outcome.status}: {outcome.why}")
    return outcome.status


def _outcome(arguments: Sequence[str] | None) -> Outcome:
    try:
        options = _parser().parse_args(arguments)
    except SystemExit as ended:
        # argparse has said what is wrong, or shown the help that was asked for
        return Outcome(PASSED) if not ended.code else Outcome(WRONG_INPUT, "wrong usage")
    try:
        outcome = _within_reach(options)
    except (InputError, UnknownNameError) as error:
        _say(str(error))
        return Outcome(WRONG_INPUT, "wrong input")
    return outcome


def _within_reach(options: argparse.Namespace) -> Outcome:
    """Run a command with or without plugins."""
    from rs485kit import discovery

    with discovery.without_plugins() if options.no_plugins else contextlib.nullcontext():
        outcome: Outcome = options.command(options)
        return outcome


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m rs485kit", description="Check an RS-485 bus that a file describes.", epilog=_STATUSES
    )
    parser.add_argument("--version", action="version", version=f"rs485kit {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    check = commands.add_parser("check", help="check a bus against every rule and report", epilog=_STATUSES)
    check.add_argument("file", metavar="FILE", help='TOML file of the bus; "-" reads standard input')
    check.add_argument("--format", choices=FORMATS, default="text", help="form of the report (text)")
    check.add_argument("--output", metavar="FILE", help="write the report to a file, in UTF-8")
    check.add_argument("--select", metavar="PATTERN", action="append", default=[], help="run only these rules")
    check.add_argument("--skip", metavar="PATTERN", action="append", default=[], help="do not run these rules")
    check.add_argument("--policy", metavar="FILE", help="TOML file with select, skip, settings, waivers and require")
    check.add_argument(
        "--require", metavar="NAME", action="append", default=[],
        help='do not pass without this distribution of plugins, as in "canal-rules >= 1.2"',
    )  # fmt: skip
    _plugin_switch(check)
    check.add_argument("--isolate", action="store_true", help="run installed plugins in a child process")
    check.add_argument(
        "--time-limit", metavar="SECONDS", type=float, help="with --isolate, longest time for one import or rule (10)"
    )
    check.set_defaults(command=_check)
    explain = commands.add_parser("explain", help="say what a rule checks, why, and on what its limit rests")
    explain.add_argument("rule", metavar="RULE", help="name of the rule")
    _plugin_switch(explain)
    explain.set_defaults(command=_explain)
    rules = commands.add_parser("rules", help="list the rules")
    _plugin_switch(rules)
    rules.set_defaults(command=_rules)
    parts = commands.add_parser("parts", help="list the parts of the catalogue, or show one with its sources")
    parts.add_argument("name", metavar="NAME", nargs="?", help="name of a part")
    _plugin_switch(parts)
    parts.set_defaults(command=_parts)
    return parser


def _plugin_switch(command: argparse.ArgumentParser) -> None:
    command.add_argument("--no-plugins", action="store_true", help="leave out the rules and parts of installed plugins")


# --- commands --------------------------------------------------------------------------------------------------------


def _check(options: argparse.Namespace) -> Outcome:
    from rs485kit.checking import check
    from rs485kit.report.wording import reason

    bus, policy = _bus(options.file), _policy(options)
    with contextlib.redirect_stdout(sys.stderr):
        # what a plugin prints must not stand in the middle of a report
        report = check(bus, policy=policy, isolate=options.isolate, time_limit=options.time_limit)
    write = {"text": report.to_text, "markdown": report.to_markdown, "html": report.to_html, "json": report.to_json}
    text = write[options.format]()
    if options.output is None:
        _write(text, instead="xmlcharrefreplace" if options.format == "html" else "replace")
    else:
        _save(options.output, text)
    return Outcome(report.exit_status, reason(report))


def _bus(file: str) -> "Bus":
    from rs485kit.files import load_bus

    if file != "-":
        return load_bus(file)
    if sys.stdin is None:
        raise InputError(Problem("standard input", "a stream that is closed", "the text of a bus"))
    return load_bus(sys.stdin.buffer)


def _policy(options: argparse.Namespace) -> "Policy":
    from rs485kit.files.judgement import load_policy
    from rs485kit.model import Policy

    base = load_policy(options.policy) if options.policy is not None else None
    return Policy(select=options.select, skip=options.skip, require=options.require).over(base)


def _explain(options: argparse.Namespace) -> Outcome:
    from rs485kit.plugins import explain

    with contextlib.redirect_stdout(sys.stderr):
        text = explain(options.rule)
    _write(text)
    return Outcome(PASSED)


def _rules(options: argparse.Namespace) -> Outcome:
    from rs485kit.plugins.listing import listing

    with contextlib.redirect_stdout(sys.stderr):
        rules, errors = listing()
    width = max(len(rule.name) for rule in rules)
    _write("".join(f"{rule.name:{width}}  {rule.title}\n" for rule in rules))
    for error in errors:
        _say(str(error))
    return Outcome(INCOMPLETE, "not every installed plugin could be loaded") if errors else Outcome(PASSED)


def _parts(options: argparse.Namespace) -> Outcome:
    from rs485kit.catalogue._shelves import flaws

    _write(_every_part() if options.name is None else _one_part(options.name))
    wrong = flaws() if options.name is None else ()
    for flaw in wrong:
        _say(f"{flaw.name} ({flaw.package} {flaw.version}): {flaw.cause}")
    return Outcome(INCOMPLETE, "not every installed part could be read") if wrong else Outcome(PASSED)


def _every_part() -> str:
    from rs485kit import catalogue
    from rs485kit.catalogue._entries import KINDS

    lines = []
    for kind in KINDS:
        lines += [f"{kind}:", *(_filled(f"{name}: {catalogue.about(name)}", "  ") for name in catalogue.names(kind))]
        lines += ["  none"] if not catalogue.names(kind) else []
    return "\n".join(lines) + "\n"


def _one_part(name: str) -> str:
    from rs485kit import catalogue
    from rs485kit.catalogue._entries import KINDS

    lines = [name, _filled(catalogue.about(name), "")]
    for kind, cls in KINDS.items():
        if name in catalogue.names(kind):
            sources = catalogue.sources(kind, name)
            fields = catalogue.table(cls, name).items()
            lines += [f"{kind}:", *(_filled(f"{field} = {_figure(value)}; source: {sources[field]}", "  ")
                                    for field, value in fields)]  # fmt: skip
    return "\n".join(lines) + "\n"


def _figure(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{member} {each}" for member, each in value.items())
    return str(value)


def _filled(text: str, indent: str) -> str:
    import textwrap

    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ", break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip


# --- writing ---------------------------------------------------------------------------------------------------------


def _write(text: str, *, instead: str = "replace") -> None:
    """Write to standard output, with "?" or the like for what its encoding cannot hold; a reader may leave early."""
    stream = sys.stdout
    if stream is None:
        raise InputError(Problem("standard output", "a stream that is closed", "one that can be written"))
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        stream.write(text.encode(encoding, instead).decode(encoding))
        stream.flush()
    except BrokenPipeError:
        _leave_standard_output()
    except OSError as error:
        _leave_standard_output()
        given = f"a stream that cannot be written ({error.strerror})"
        problem = Problem("standard output", given, "one that can")
        raise InputError(problem) from None


def _leave_standard_output() -> None:
    """Send what is still buffered to nowhere, so that the interpreter does not complain at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _save(file: str, text: str) -> None:
    """Write a file whole or not at all; a pipe or a device is written as it is."""
    import tempfile

    target = Path(os.path.realpath(file))
    data = text.encode("utf-8", "replace")
    try:
        if target.exists() and not target.is_file():
            target.write_bytes(data)
            return
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:50]}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            Path(name).chmod(stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666 & ~_umask())
            Path(name).replace(target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        problem = Problem("--output", f"{file} ({error.strerror})", "a file that can be written")
        raise InputError(problem) from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _say(text: str) -> None:
    """Write a line to standard error, which may be closed."""
    if sys.stderr is None:
        return
    with contextlib.suppress(OSError, ValueError):
        print(text, file=sys.stderr, flush=True)


def _kept(error: BaseException) -> str:
    """Write the traceback of an error to a file, and say where."""
    import tempfile
    import traceback

    text = "".join(traceback.format_exception(error))
    try:
        handle, name = tempfile.mkstemp(prefix="rs485kit-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as stream:
            stream.write(text)
    except OSError as why:
        return f"an internal error, {type(error).__name__}; its traceback could not be written ({why.strerror})"
    return f"an internal error, {type(error).__name__}; its traceback was written to {name}"


if __name__ == "__main__":
    sys.exit(main())
