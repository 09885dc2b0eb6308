"""Doctor."""

from __future__ import annotations

from datetime import date

import click

from slidefit.cli.speaking import json_option, say
from slidefit.errors import SlidefitError


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
