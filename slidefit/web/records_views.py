"""Records: drop files, see how they are understood, add them, undo them, and what the book holds."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from slidefit.errors import RecordsError, SlidefitError
from slidefit.records.columns import REASONS
from slidefit.records.source_book import cards_of
from slidefit.records.words.fields import FIELDS
from slidefit.records.words.taught import offered_meanings
from slidefit.records.words.units import PRICE_UNITS, WEIGHT_FACTORS
from slidefit.report.market_content import PREVIEW_COLUMNS, add_account, preview_table, reason_words
from slidefit.report.sources_content import price_rows
from slidefit.web.jobs import Addition, Look, ReadingRequest, add_to, aside_of, look_at, open_question
from slidefit.web.pages import Context, attachment, changing_form, csv_text, files_of, office_of, said

router = APIRouter(include_in_schema=False)
ChangingForm = Annotated[FormData, Depends(changing_form)]
SETTINGS = ("market", "currency", "price_unit", "weight_unit", "date_order", "sale_day", "sheet")
COLUMN = "column."
WORD = "value."


@router.get("/records")
def records(request: Request) -> Response:
    """Show what the book holds, and the form that takes files."""
    office = office_of(request)
    summary = office.desk.summary() if office.desk.has_book() else None
    return office.page(request, "records.html.j2", view="records", summary=summary, **choices())


def choices() -> dict[str, Any]:
    """Return what the forms about files offer to choose from."""
    return {
        "price_units": list(PRICE_UNITS),
        "weight_units": list(WEIGHT_FACTORS),
        "fields": [(each.name, each.meaning) for each in FIELDS],
        "offered": offered_meanings,
    }


def stated_in(form: FormData) -> dict[str, str | None]:
    """Return what the user told about the files."""
    return {name: said(form, name) or None for name in SETTINGS}


def mapping_of(form: FormData) -> dict[str, str]:
    """Return the headings whose meaning the user changed."""
    out = {}
    for name, value in form.multi_items():
        if name.startswith(COLUMN) and isinstance(value, str) and value:
            out[name[len(COLUMN) :]] = value
    if said(form, "heading") and said(form, "heading_field"):
        out[said(form, "heading")] = said(form, "heading_field")
    return out


def values_of(form: FormData) -> dict[str, dict[str, str]]:
    """Return the words of columns whose meaning the user settled."""
    out: dict[str, dict[str, str]] = {}
    for name, value in form.multi_items():
        if name.startswith(WORD) and isinstance(value, str) and value:
            field, _, word = name[len(WORD) :].partition(".")
            out.setdefault(field, {})[word] = value
    return out


@router.post("/records/look")
async def look(request: Request, form: ChangingForm) -> Response:
    """Hold the files and show how they are understood."""
    office = office_of(request)
    files = [(item.filename, item.file) for item in files_of(form, "files")]
    number = await run_in_threadpool(office.uploads.hold, office.tokens.browser(request), files)
    return await looked(request, office, number, form)


@router.post("/records/look-again")
async def look_again(request: Request, form: ChangingForm) -> Response:
    """Read held files once more, as the user says that they are to be read."""
    return await looked(request, office_of(request), said(form, "upload"), form)


def question_of(request: Request, number: str, form: FormData) -> ReadingRequest:
    """Return held files of this browser with how they are to be read."""
    office = office_of(request)
    upload = office.uploads.find(number, office.tokens.browser(request))
    with office.desk.book_lock:
        cards = cards_of(office.desk.settings.book)
    return ReadingRequest(
        upload.paths, mapping_of(form), stated_in(form), values_of(form), cards,
        office.desk.settings.book,
    )  # fmt: skip


async def looked(request: Request, office: Context, number: str, form: FormData) -> Response:
    """Show how held files are understood, or the question that they leave open."""
    question = question_of(request, number, form)
    shared: dict[str, Any] = {
        "upload": number,
        "told": question.stated,
        "mapping": question.mapping,
        "values": question.values,
        "names": [path.name for path in question.paths],
        "view": "records",
        **choices(),
    }
    try:
        read = await office.readers.run(look_at, question, book=office.desk.book_lock)
    except SlidefitError as fault:
        return office.page(
            request, "look.html.j2", status=400, read=None, questions=[open_question(fault)], **shared
        )
    texts = dict(read.files[0].samples) if read.files else {}
    return office.page(
        request,
        "look.html.j2",
        read=read,
        questions=read.questions,
        preview=preview_table(read.first_rows, PREVIEW_COLUMNS, texts),
        prices=price_rows(read.prices),
        aside=aside_rows(read),
        reasons=reasons_of(read.reasons),
        **shared,
    )


def reasons_of(reasons: dict[str, int]) -> list[tuple[str, str, int]]:
    """Return each reason in words, what it means, and its count, the most frequent first."""
    ranked = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))
    return [(reason_words(name), REASONS.get(name, ""), count) for name, count in ranked]


def aside_rows(read: Look) -> list[tuple[str, str, str, str]]:
    """Return the first rows set aside: file, row, reason and text."""
    return [
        (str(file), str(row), reason_words(str(reason)), str(text))
        for file, row, reason, text in read.aside.itertuples(index=False)
    ]


@router.post("/records/set-aside.csv")
async def set_aside(request: Request, form: ChangingForm) -> Response:
    """Hand out the rows of held files that can't be used, in their own columns."""
    office = office_of(request)
    rows = await office.readers.run(aside_of, question_of(request, said(form, "upload"), form))
    return attachment(await run_in_threadpool(csv_text, rows), "set-aside.csv")


@router.post("/records/add")
async def add(request: Request, form: ChangingForm) -> Response:
    """Add held files to the book, as one batch."""
    office = office_of(request)
    number = said(form, "upload")
    question = question_of(request, number, form)
    made: Addition = await office.readers.run(
        add_to, question, office.desk.settings.book, book=office.desk.book_lock
    )
    office.uploads.drop(number)
    done = made.done
    account = add_account(done.added, done.already_there, done.set_aside, done.reasons)
    return office.page(request, "added.html.j2", view="records", account=account, done=done, notes=made.notes)


@router.post("/records/forget")
def forget(request: Request, form: ChangingForm) -> Response:
    """Take held files away without adding them."""
    office = office_of(request)
    number = said(form, "upload")
    try:
        office.uploads.find(number, office.tokens.browser(request))
        office.uploads.drop(number)
    except RecordsError:
        pass  # they are gone already, which is what was asked for
    return RedirectResponse("/records", status_code=303)


@router.post("/records/undo")
def undo(request: Request, form: ChangingForm) -> Response:
    """Take a batch out of the book again."""
    desk = office_of(request).desk
    with desk.book_lock:
        desk.book.undo(said(form, "batch"))
    return RedirectResponse("/records", status_code=303)


@router.get("/records/records.csv")
def export(request: Request) -> Response:
    """Hand out the book's tidy records as CSV."""
    desk = office_of(request).desk
    with desk.book_lock, tempfile.TemporaryDirectory(prefix="slidefit-page-") as folder:
        target = Path(folder) / "records.csv"
        desk.book.export(target)
        return attachment(target.read_bytes(), "records.csv")
