"""Region's commands for a whole season: refresh a folder, sheets, briefs, regions side by side."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import click

from slidefit.cli.speaking import book_option, json_option, progress_words, say
from slidefit.errors import SlidefitError
from slidefit.report.document import Sentence
from slidefit.report.document import document as document_of

file_argument = click.argument("file", type=click.Path())


@click.command()
@file_argument
@click.option(
    "--out", type=click.Path(), metavar="OUT.html", help="Where the page goes; by default beside FILE."
)
@click.option("--office", default="", help="Who hands it out; printed at the top of the page.")
@click.option("--old", is_flag=True, help="Allow prices over 60 days old, stamped as old.")
@json_option
def sheet(file: str, out: str | None, office: str, old: bool, as_json: bool) -> None:
    """Write FILE as one HTML page to print and hand out: today's prices by weight and month, slide, discounts."""
    from slidefit.files import write_whole
    from slidefit.regions.hand_edits import hand_edits
    from slidefit.regions.region_file import read_region
    from slidefit.report.regions.change_content import edit_line
    from slidefit.report.regions.region_sheet import region_sheet_html

    written = out or str(Path(file).with_suffix(".html"))
    write_whole(
        written,
        region_sheet_html(
            read_region(file),
            date.today(),
            office=office,
            old=old,
            edits=[edit_line(e) for e in hand_edits(file)],
        ),
    )
    say({"sheet": written}, lambda: f"{written}: the sheet\n", as_json=as_json)


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False))
@book_option
@click.option(
    "--yes", "write", is_flag=True, help="Write every region and its hand-outs; former versions are kept."
)
@click.option("--hand-outs", type=click.Path(), help="Folder for sheets, briefs, pictures; FOLDER/hand-outs.")
@click.option("--office", default="", help="Who hands the sheets out.")
@click.option("--refit", is_flag=True, help="Take the fitted numbers in place of those set by hand.")
@json_option
def refresh(
    folder: str, book: str, write: bool, hand_outs: str | None, office: str, refit: bool, as_json: bool
) -> None:
    """Update every region of FOLDER from one reading of the book; nothing is written without --yes."""
    from slidefit.records.sale_book import SaleBook
    from slidefit.regions.moved.renewal import refreshed
    from slidefit.report.regions.region_hand_outs import refresh_content
    from slidefit.report.regions.region_sheet import write_hand_outs

    tell, today = progress_words(), date.today()
    tell("opening the book")
    work = refreshed(
        folder,
        lambda first: SaleBook(book).records(since=first),
        today,
        tell,
        workers=os.cpu_count() or 1,
        refit=refit,
    )
    files: list[Path] = []
    if write:
        work.write(folder)
        files = write_hand_outs(
            work, Path(hand_outs or Path(folder) / "hand-outs"), today, tell, office=office
        )
    again = f"To write: slidefit region refresh {folder} --book {book} --yes"
    last = f"Hand-outs: {len(files)} files." if write else again
    say(
        work,
        lambda: refresh_content(work, today, written=write) + document_of(last),
        as_json=as_json,
        beside={"folder": folder, "written": write, "hand_outs": files},
    )


@click.command()
@file_argument
@click.option(
    "--pictures", type=click.Path(), help="Folder for pictures of season and slide, as PNG for a talk."
)
@json_option
def brief(file: str, pictures: str | None, as_json: bool) -> None:
    """Write three short paragraphs on FILE for a newsletter: prices now, the months ahead, what moved."""
    from slidefit.regions.region_file import read_region
    from slidefit.regions.region_folder import formers
    from slidefit.regions.region_outlook import outlook_of_region, region_season, region_slides
    from slidefit.report.charts.market_charts import season_chart, slide_by_weight
    from slidefit.report.regions.region_hand_outs import brief_content
    from slidefit.report.render.pictures import write_picture

    read = read_region(file)
    former = next((f.region for f in reversed(formers(file)) if f.region is not None), None)
    content = brief_content(read, former, date.today())
    written = []
    if pictures:
        basis = outlook_of_region(read).basis
        drawn = {
            "season": season_chart(region_season(read), basis),
            "slide": slide_by_weight(region_slides(read), basis),
        }
        Path(pictures).mkdir(parents=True, exist_ok=True)
        for name, figure in drawn.items():
            path = Path(pictures) / f"{Path(file).stem}_{name}.png"
            written.append(str(write_picture(figure, path)))
    say(
        {
            "name": read.name,
            "paragraphs": [p.text for p in content.parts if isinstance(p, Sentence)],
            "pictures": written,
        },
        lambda: content + document_of(*(f"Written: {path}" for path in written)),
        as_json=as_json,
    )


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path())
@click.option("--chart", type=click.Path(), metavar="OUT.png", help="Draw them, as .png or .svg.")
@json_option
def compare(files: tuple[str, ...], chart: str | None, as_json: bool) -> None:
    """Show FILES side by side: price level, slide, discounts and season, with intervals."""
    from slidefit.regions.compared import compared
    from slidefit.regions.region_file import read_region
    from slidefit.report.charts.market_charts import regions_chart
    from slidefit.report.regions.region_hand_outs import compare_content
    from slidefit.report.render.pictures import write_picture

    regions = [read_region(file) for file in files]
    if len(regions) < 2:
        raise SlidefitError("one region can't be compared", remedy="Name two files or more.")
    if chart:
        write_picture(regions_chart(regions, compared(regions)), chart)
    answer = {"regions": [region.name for region in regions], "numbers": compared(regions)}
    say(answer, lambda: compare_content(regions), as_json=as_json)
