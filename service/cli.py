"""The command line: check and protect a plan, look up crops, pairs and rules, start the service.

Exit status: 0 clear, 1 caution, 2 breach, 3 unknown; 64 wrong use, 65 input that cannot be
read as what it should be, 66 a file that cannot be opened, 70 a failure of ours, 74 output
that cannot be written.  Imports that cost time stand inside the commands that need them.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from service.askcommand import ask
from service.backupcommand import backup, restore
from service.batchcommand import batch
from service.clubcommands import clubs, tokens
from service.drawcommand import draw_map, draw_timeline
from service.labelcommand import labels
from service.lookups import crops, rule_commands
from service.memory import seldom
from service.netcommand import net
from service.pairlookups import pairs
from service.pestlookups import pests
from service.planfile import KIND, open_plan
from service.proposecommand import propose
from service.protectcommands import calendar, protect
from service.recordcommands import record
from service.reportout import put_report, report_options
from service.sheetcommands import bring_in_sheet, take_out_sheet
from service.terminal import FAILURE, USAGE, Stop, put
from service.workcommand import migrate, ready_record, settings, start_log, worker

if TYPE_CHECKING:
    from service.reading import Kind

INTERRUPTED = 130
#: Set to anything, it shows where in the program a failure of ours happened.
TRACE = "BREAKCROP_TRACE"


def show_version(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    """Print the version of the program and leave."""
    if not wanted or ctx.resilient_parsing:
        return
    from importlib.metadata import PackageNotFoundError, version

    try:
        number = version("breakcrop")
    except PackageNotFoundError:
        number = "not installed (run from its source)"
    put(f"breakcrop {number}\n")
    ctx.exit(0)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.option("--version", is_flag=True, is_eager=True, expose_value=False, callback=show_version,
              help="Show the version and leave.")  # fmt: skip
def cli() -> None:
    """Checks bed plans: rotation, disease, pests, neighbours, sequence and covers; says why and what to do."""


cli.add_command(ask)
cli.add_command(backup)
cli.add_command(batch)
cli.add_command(calendar)
cli.add_command(clubs)
cli.add_command(crops)
cli.add_command(draw_map)
cli.add_command(draw_timeline)
cli.add_command(labels)
cli.add_command(migrate)
cli.add_command(net)
cli.add_command(pairs)
cli.add_command(pests)
cli.add_command(propose)
cli.add_command(protect)
cli.add_command(record)
cli.add_command(restore)
cli.add_command(rule_commands)
cli.add_command(tokens)
cli.add_command(worker)
record.add_command(bring_in_sheet)
record.add_command(take_out_sheet)


@cli.command()
@click.argument("plan")
@report_options
@KIND
def check(
    plan: str,
    form: str,
    season: str | None,
    history: bool,
    severity: str,
    overlay: str | None,
    kind: Kind | None,
) -> int:
    """Check a plan and print the report.

    PLAN is a file, "-" for standard input, or "demo" for the garden that comes with the
    program (write ./demo for a file of that name).

    Exit status: 0 clear, 1 caution, 2 breach, 3 unknown; 64 and above when the plan could
    not be checked.
    """
    read, knowledge = open_plan(plan, kind, season, overlay)
    return put_report(read, knowledge, form=form, history=history, severity=severity)


@cli.command()
@click.option("--host", help="Address to listen on (else BREAKCROP_HOST or 127.0.0.1).")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen on (else BREAKCROP_PORT or 8080).")
@click.option("--workers", type=click.IntRange(1, 256), help="Worker processes (else BREAKCROP_WORKERS or 2).")
@click.option("--no-worker", is_flag=True, help="Work through no jobs; breakcrop worker does, here or elsewhere.")
def serve(host: str | None, port: int | None, workers: int | None, no_worker: bool) -> int:
    """Serve over HTTP until stopped, and work through jobs.

    Brings the record into the shape of this version first.
    """
    from service import serving
    from service.recordstore import speaking
    from service.store.using import used

    for name, value in (("HOST", host), ("PORT", port), ("WORKERS", workers)):
        if value is not None:
            os.environ[f"BREAKCROP_{name}"] = str(value)
    config = settings()
    try:
        serving.check_address(config.host, config.port)
    except serving.Unusable as error:
        raise Stop(str(error), USAGE) from None
    record = ready_record(config)
    record.close()
    start_log(config)
    with speaking(), used(record):
        return serving.supervise(worker=None if no_worker else serving.WORKER)


@cli.command()
def openapi() -> int:
    """Print the OpenAPI document of the service as YAML."""
    from service.openapi_file import openapi_yaml

    put(openapi_yaml().encode())
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status; never raises."""
    seldom()
    try:
        status = cli.main(args=arguments, prog_name="breakcrop", standalone_mode=False)
    except Stop as stop:
        return complain(stop.message, stop.status)
    except click.exceptions.NoArgsIsHelpError as error:
        return complain(error.format_message(), USAGE)
    except click.ClickException as error:
        hint = ""
        if isinstance(error, click.UsageError) and error.ctx is not None:
            hint = f"\n{error.ctx.get_usage()}\nSee '{error.ctx.command_path} --help'."
        return complain(error.format_message() + hint, USAGE)
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except Exception as error:
        if os.environ.get(TRACE):
            import traceback

            traceback.print_exc()
        return complain(
            f"breakcrop failed ({type(error).__name__}: {error}). This is a fault of the program, not of "
            f"your plan; run again with {TRACE}=1 and report what it prints.",
            FAILURE,
        )
    return status if isinstance(status, int) else 0


def complain(message: str, status: int) -> int:
    """Write to standard error, which may be gone as well, and pass the status on.

    Control characters, which a file's name may hold, could steer a terminal: they become "?".
    """
    shown = "".join(mark if mark.isprintable() or mark == "\n" else "?" for mark in message)
    try:
        print(shown, file=sys.stderr, flush=True)
    except OSError:
        return status
    return status


if __name__ == "__main__":
    sys.exit(main())
