"""What leaves the page: the report to print, and a link that opens to the same answer anywhere."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from slidefit.decision.results import Comparison
from slidefit.errors import SlidefitError
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.report import sentences
from slidefit.report.document import Document, Picture
from slidefit.report.render.html import document_html
from slidefit.report.render.pdf import PaperSize, document_pdf
from slidefit.report.report_content import report_of
from slidefit.report.sentences import capital
from slidefit.report.take_home.handout import handout_html
from slidefit.report.take_home.workbook import live_workbook
from slidefit.web.decide_views import PRICES, asked_of
from slidefit.web.forms.link import BROKEN, OPEN, SENT, packed, qr_figure, unpacked
from slidefit.web.forms.plan_address import MOST_VALUES, address, given
from slidefit.web.pages import attachment, drawn_alone, office_of, stand_alone_policy

router = APIRouter(include_in_schema=False)


@router.get("/decide/link")
def link(request: Request) -> Response:
    """Return a link that holds the plan and its prices, for a page that is open already or to copy by hand."""
    office = office_of(request)
    made = link_of(request)
    if "json" in request.headers.get("accept", ""):
        return JSONResponse({"link": made})
    whole = f"{str(request.base_url).rstrip('/')}{made}"
    return office.page(
        request, "link.html.j2", view="decide", link=whole, back=f"/decide?{request.url.query}"
    )


def link_of(request: Request) -> str:
    """Return the address, from its first slash, that opens to this plan at these prices anywhere."""
    desk = office_of(request).desk
    values = given(request.query_params.multi_items())
    typed = any(name.startswith("prices.") for name in values)
    prices = desk.prices_for(request.query_params.get(PRICES, ""))
    sent = {} if typed and not prices else {PRICES: desk.sent(prices)[len(SENT) :]}
    return f"{OPEN}{packed(address({**{name: unpacked(text) for name, text in sent.items()}, **values}))}"


@router.get(OPEN + "{letters}")
def open_link(request: Request, letters: str) -> Response:
    """Show that a plan was sent, and offer to open it; nothing is worked out yet, for any site may link here."""
    office = office_of(request)
    try:
        pairs = dict(parse_qsl(unpacked(letters), max_num_fields=MOST_VALUES))
    except ValueError:
        raise SlidefitError(BROKEN) from None
    region = pairs.pop(PRICES, "")
    fields = {**({PRICES: SENT + packed(region)} if region else {}), **given(pairs.items())}
    return office.page(request, "open.html.j2", view="decide", fields=fields)


@router.get("/decide/report")
def report(request: Request) -> Response:
    """Show the report: the page to print and hand over, which stands alone."""
    made = report_asked(request)
    query = asked_of(request).query
    ways = (
        (sentences.BACK_TO_PLAN, f"/decide?{query}"),
        (sentences.SAVE_PDF, f"/decide/report.pdf?{query}"),
        (sentences.SAVE_PDF_A4, f"/decide/report.pdf?{query}&paper=a4"),
    )
    with drawn_alone():
        text = document_html(made, ways=ways)
    return HTMLResponse(text, headers={"Content-Security-Policy": stand_alone_policy(text)})


def code_of(request: Request) -> Picture | None:
    """Return the link as a QR code, on a page that other machines can reach; None where it is too long for one."""
    if not office_of(request).desk.settings.key:  # an address of this machine alone is no use on a phone
        return None
    figure = qr_figure(f"{str(request.base_url).rstrip('/').upper()}{link_of(request)}")
    if figure is None:
        return None
    return Picture(lambda: figure, "QR code of the link to this plan and its prices")


@router.get("/decide/report.pdf")
def report_file(request: Request, paper: PaperSize = "letter") -> Response:
    """Hand out the report as a PDF."""
    made = report_asked(request)
    with drawn_alone():
        content = document_pdf(made, size=paper)
    return attachment(content, "report.pdf")


@router.get("/decide/plan.xlsx")
def workbook(request: Request) -> Response:
    """Hand out the plan as a workbook that computes by itself."""
    return taken_home(request, "plan.xlsx", lambda o, p, c, _: live_workbook(o, p, c))


@router.get("/decide/calves.html")
def take_home_page(request: Request) -> Response:
    """Hand out the take-home page with the plan in it."""
    return taken_home(
        request, "calves.html", lambda o, p, _, name: handout_html(o, name=name, today=date.today(), plan=p)
    )


def taken_home(
    request: Request, name: str, make: Callable[[Outlook, Plan, Comparison, str], str | bytes]
) -> Response:
    """Hand out what computes without us, made of the plan that an address holds and its prices."""
    desk, (plan, comparison, prices) = office_of(request).desk, answered(request)
    sources, outlook = dict(desk.price_sources(prices)), desk.outlook_for(plan, prices)
    called = "Typed" if plan.prices else sources.get(prices, "").removeprefix("region ")
    return attachment(make(outlook, plan, comparison, capital(called)), name)


def answered(request: Request, *, full: bool = False) -> tuple[Plan, Comparison, str]:
    """Return the plan that an address holds, its answer and its prices; why there is none is a fault."""
    wanted = asked_of(request, full=full)
    if wanted.comparison is None or wanted.plan is None:
        raise SlidefitError(" ".join(wanted.fault or tuple(wanted.problems.values())))
    return wanted.plan, wanted.comparison, wanted.prices


def report_asked(request: Request) -> Document:
    """Return the report of the plan that an address holds."""
    desk, (plan, comparison, prices) = office_of(request).desk, answered(request, full=True)
    records, season, outlook = desk.records(), desk.season(prices), desk.outlook_for(plan, prices)
    flips = desk.flips(plan, prices)
    with drawn_alone():
        return report_of(
            comparison, outlook, records=records, season=season, flips=flips, title=plan.title,
            code=code_of(request),
        )  # fmt: skip
