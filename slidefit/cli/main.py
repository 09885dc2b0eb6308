"""The command ``slidefit``."""

from __future__ import annotations

import gc
import os
import sys
from datetime import date

import click

from slidefit import __version__
from slidefit.cli.market_commands import backtest, fit, season, slide
from slidefit.cli.plan_commands import compare, flip, handout, months, report, workbook
from slidefit.cli.quick_command import quick
from slidefit.cli.records_commands import add, book, export, futures, source, undo
from slidefit.cli.region_commands import region
from slidefit.cli.serve_command import demo, serve
from slidefit.cli.speaking import json_option, run_safely, say
from slidefit.errors import SlidefitError


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="slidefit")
def slidefit() -> None:
    """Price slides of feeder calves from local sale records, and whether to keep calves or sell them.

    \b
    The usual order:  add (records into a book), fit, slide and season (look), compare PLAN, report PLAN.
    Two prices in mind and no records:  slidefit quick --weight 520 --price 312 --to-weight 700 --later 262 --days 90
    To see it all on invented data:  slidefit demo
    By mouse, on a laptop or a phone:  slidefit serve --open

    Weights are in pounds (lb), prices in dollars per hundredweight ($/cwt). An estimate, not a promise: ask your
    lender and a market adviser before you act on it.
    """


@click.command()
@click.argument("folder", default=".", type=click.Path())
@json_option
def doctor(folder: str, as_json: bool) -> None:
    """Look over FOLDER's sale books, source cards, fits, regions and plans, and say what to do; nothing is written.

    Exit code 2 where a file can't be read at all; what is only worth a look is an answer.
    """
    from slidefit.doctor import look_over
    from slidefit.report.doctor_content import doctor_content

    checkup = look_over(folder, date.today())
    say(checkup, lambda: doctor_content(checkup), as_json=as_json)
    if checkup.unreadable:
        raise SlidefitError(
            f"{checkup.unreadable} of {len(checkup.files)} files can't be read",
            where=folder,
            remedy="See above for each.",
        )


for command in (
    add, book, undo, export, source, fit, slide, season, backtest, futures, quick, compare, months, flip, report,
    workbook, handout, region, doctor, serve, demo,
):  # fmt: skip
    slidefit.add_command(command)


OBJECTS_BETWEEN = 50_000
"""New objects between two looks for garbage: an answer makes as many, and at Python's own 700 a tenth of its time went
into looking (measured)."""


def run() -> None:
    """Run the command line and exit with its code; linear algebra on one thread, as its matrices are small."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    gc.set_threshold(OBJECTS_BETWEEN)
    sys.exit(run_safely(lambda: slidefit.main(standalone_mode=False)))
