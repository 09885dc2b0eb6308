"""The day of sale in titles and prose: behind "sale of" and the like, else the dateline or a weekday before it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from slidefit.records.words.dates import DAY_TEXT, ENGLISH_MONTHS, SaleDate, is_date, month_number, parse_date
from slidefit.records.words.periods import SEASON, SEASON_BEGINS, season_year
from slidefit.records.words.vocabulary import words_of

_SALE_DAY = words_of("reports", "sale_day")
_OTHER_DAY = words_of("reports", "other_day")
_WEEKDAY = words_of("reports", "weekday")
_YESTERDAY = re.compile(r"\byesterday\b(?!\W{1,3}\d)", re.IGNORECASE)
_SALE_DATE = words_of("titles", "sale_date")
_OF_SALE, _WAS_SOLD = words_of("titles", "of_sale"), words_of("titles", "was_sold")
_OTHER_DATE = words_of("titles", "other_date")
_OF_YESTERDAY = words_of("titles", "of_yesterday")
_SOURCE = words_of("titles", "source")
_PARTS = re.compile(r"[;|—]|\s(?=\()|(?<=\w{3})\.\s+(?=[A-Z])|\s[-–]\s(?=[a-z])|\s{2}")
_LATEST_ISSUE_DAYS = 13  # from a sale to the paper that tells of it: a choice of ours
_HALF_YEAR_DAYS = 183  # a day without a year further ahead than that is of the year before
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def sale_day(line: str, known: str, written: str, year: str) -> tuple[str, str]:
    """Return the day of sale after a line of prose, and the first day written; one without a year takes its year.

    A day behind "sale of", "sold on" and the like, or behind its own weekday as in "Monday, Nov. 2", beats the
    dateline, the first day written; so do "sold Monday" and "sold yesterday", before it.
    """
    for found in DAY_TEXT.finditer(line):
        day = parse_date(found["day"]) if is_whole(found) else None
        if day is not None and not written:
            written = day.day.isoformat()  # whatever it is the day of, the year lies near
            known = known or (_as_written(found, day.day) if _day_of(found, "") else "")
    if sold := day_sold(line, written, year):
        return sold, written
    weekday = _WEEKDAY.search(line) or _YESTERDAY.search(line)
    if written and weekday and not _OTHER_DAY.search(line[: weekday.end()]):
        base = date.fromisoformat(written)
        named = _WEEKDAYS.index(weekday[1][:3].lower()) if weekday.re is _WEEKDAY else base.weekday() - 1
        back = (base.weekday() - named) % 7
        return (base - timedelta(days=back)).isoformat(), written
    return known, written


def day_sold(line: str, written: str, year: str = "") -> str:
    """Return the day behind "sale of", "sold on" or its own weekday, of the year that lies near the day written."""
    own = ""
    for found in DAY_TEXT.finditer(line):
        day = _day_of(found, written or year)
        if day is None:
            continue
        late = bool(written) and (day - date.fromisoformat(written)).days > _HALF_YEAR_DAYS
        if late and not is_whole(found):
            day = day.replace(year=day.year - 1)
        if _SALE_DAY.search(line[: found.start()]):
            return _as_written(found, day)
        if written and found["weekday"] and _WEEKDAYS[day.weekday()] == found["weekday"][:3].lower():
            own = own or _as_written(found, day)
    return own


_NUMBERS_OF_DAY = re.compile(
    rf"\b(?:yesterday|today|(?:{'|'.join(_WEEKDAYS)})day|(?:sold|sale|bought)(?: o[nf])?)"
    r"\W{1,3}\d{1,2}/\d{1,2}(?![\d/])",
    re.IGNORECASE,
)


def with_years(line: str, year: str) -> str:
    """Return a line whose days of two numbers, behind words of a day, have the year.

    >>> with_years("Bought yesterday (10/22), 5/8 in", "2026"), with_years("Sold 10/22", "")
    ('Bought yesterday (10/22/2026), 5/8 in', 'Sold 10/22')
    """
    return _NUMBERS_OF_DAY.sub(rf"\g<0>/{year}", line) if len(year) == 4 else line


def first_day(line: str, year: str) -> str:
    """Return the first day in a line, of a year where it has none of its own; blank where there is none.

    >>> first_day("Wren Fork - Oct 3", "2026"), first_day("FRI 30OCT2026", ""), first_day("Wren Fork", "2026")
    ('2026-10-03', '2026-10-30', '')
    """
    found = DAY_TEXT.search(line)
    day = _day_of(found, year) if found else None
    return _as_written(found, day) if found and day else ""


def days_told(lines: Iterable[str]) -> list[str]:
    """Return the whole days that lines tell, each once, whatever they are the days of.

    >>> days_told(["Issue 45, November 10, 2026", "sold Thursday, Nov 5"])
    ['November 10, 2026']
    """
    found = (found for line in lines for found in DAY_TEXT.finditer(line) if is_whole(found))
    return list(dict.fromkeys(each["day"] for each in found))


def names_sale_day(line: str) -> bool:
    """Tell whether a title says that its day is that of the sale.

    >>> names_sale_day("Sale of July 11 2023"), names_sale_day("Printed 7/11/2023")
    (True, False)
    """
    return bool(_SALE_DATE.search(line)) and not names_other_day(line)


def names_other_day(text: str) -> bool:
    """Tell whether a title or a file's name says that its day is not that of a sale.

    >>> names_other_day("export 2026-10-08"), names_other_day("Next sale 10/22/2026"), names_other_day("fen 2026-10-08")
    (True, True, False)
    """
    return bool(_OTHER_DATE.search(text))


def date_in(lines: Sequence[str]) -> str:
    """Return the title that holds the date of the sale, or blank; publishing and comparison dates don't count.

    >>> date_in(["Brantley, Thu Oct 11, 2018   USDA Market News", "Report for 10/10/2018"])
    'Report for 10/10/2018'
    >>> date_in(["County news, November 2026", "Calf sale at Ox Bend, October 20, 2026"])
    'Calf sale at Ox Bend, October 20, 2026'
    """
    lines = [part for line in lines for part in (_PARTS.split(line) if names_other_day(line) else (line,))]
    dated = [line for line in lines if not names_other_day(line) and is_date(line)]
    of_sale = [line for line in dated if _SALE_DATE.search(line)]
    of_day = [line for line in dated if days_told([line])]  # beside a paper's month
    plain = [line for lines in (of_day, dated) for line in lines if not _SOURCE.search(line)]
    return next(iter([*of_sale, *plain]), "")


def sale_day_in(lines: Sequence[str]) -> str:
    """Return the title with the day of the sale, or the words with a day that a sentence calls so, or blank.

    A day behind "sale of", "sold on" and the like beats that of a week or an issue.

    >>> sale_day_in(["Issue 45, November 10, 2026", "Sold on Thursday, November 5"]), sale_day_in(["Oct 10, 2026"])
    ('2026-11-05', 'Oct 10, 2026')
    >>> sale_day_in(["Week ending October 10, 2026", "Sale of Tuesday, October 6"])
    'sale of 2026-10-06'
    >>> sale_day_in(["Date: Fri, 06 Nov 2026 06:30:00 -0700", "Here is yesterday's run"])
    '2026-11-05'
    """
    title, told = date_in(lines), days_told(lines)
    called = _days_behind(_OF_SALE, lines, year_in(lines))
    of_other = [found for found in DAY_TEXT.finditer(title) if not _OF_SALE.search(title[: found.start()])]
    first = parse_date(title[: of_other[0].end()] if of_other else title)
    if first and first.precision == "month" and not of_other and DAY_TEXT.search(title):
        first = None  # "Sale date Sept. 30" is a day without its year
    if len(called) == 1 and (first is None or _holds(first, date.fromisoformat(called[0]))):
        return f"sale of {called[0]}"
    told = days_told([title]) if title else told
    written = parse_date(told[0]) if told and not (title and names_sale_day(title)) else None
    if written is None:
        return title
    if not title and len(told) == 1 and any(map(_OF_YESTERDAY.search, lines)):
        return (written.day - timedelta(days=1)).isoformat()
    for line in lines:
        sold = day_sold(line, written.day.isoformat()) if line != title else ""
        if sold and (day := parse_date(sold)) and 0 < (written.day - day.day).days <= _LATEST_ISSUE_DAYS:
            return sold
    return title


def _holds(period: SaleDate, day: date) -> bool:
    """Tell whether a day lies in a month, or in a week that is told by its first or last day."""
    if period.precision == "month":
        return (period.day.year, period.day.month) == (day.year, day.month)
    return period.precision == "week" and abs((period.day - day).days) < len(_WEEKDAYS)


def day_sold_in(lines: Sequence[str], year: str) -> tuple[str, str]:
    """Return the line below a table, and the one day in it, that tells when lots were sold, or blanks.

    >>> day_sold_in(["Dues by December 1.", "The pens were sold on Friday, October 2, at Ember Lake"], "2026")[1]
    '2026-10-02'
    >>> day_sold_in(["The supper will be held on Dec 5, 2026"], ""), day_sold_in(["Sold Oct 2", "Sold Oct 9"], "2026")
    (('', ''), ('', ''))
    """
    days = _days_behind(_WAS_SOLD, lines, year)
    told = [line for line in lines if _days_behind(_WAS_SOLD, [line], year)]
    return (told[0], days[0]) if len(days) == 1 else ("", "")


def _days_behind(words: re.Pattern[str], lines: Sequence[str], year: str) -> list[str]:
    """Return the days that stand behind words of a sale, each once, of a year where they have none."""
    found = ((line, found) for line in lines for found in DAY_TEXT.finditer(line))
    days = [_day_of(found, year) for line, found in found if words.search(line[: found.start()])]
    return list(dict.fromkeys(day.isoformat() for day in days if day))


def year_in(lines: Sequence[str]) -> str:
    """Return the one year or season that the titles name, or blank.

    >>> year_in(["2019 Steers"]), year_in(["2015-2020"]), year_in(["Season 2018-19"])
    ('2019', '', '2018-19')
    """
    lines = [line for line in lines if not names_other_day(line)]
    seasons = {found.group() for line in lines for found in SEASON.finditer(line)}
    years = {season for season in seasons if season_year(season, SEASON_BEGINS)}
    years = years or {found for line in lines for found in _YEAR.findall(line)}
    return years.pop() if len(years) == 1 else ""


def year_of_all(lines: Iterable[str]) -> str:
    """Return the one year of four digits that lines name, whatever it is the year of, or blank.

    >>> year_of_all(["Issue 7, October 2026", "Dues"]), year_of_all(["2025", "2026"])
    ('2026', '')
    """
    years = {year for line in lines for year in re.findall(r"(?<![\d,$.])20\d{2}(?![\d,])", line)}
    return years.pop() if len(years) == 1 else ""


def year_about(lines: Sequence[str]) -> str:
    """Return the one year that the titles name, else that of all whole days told, whatever they are the days of.

    >>> year_about(["Sent: Tue, 20 Oct 2026 07:12", "sold Monday, Oct 19"]), year_about(["10/3/25", "10/3/26"])
    ('2026', '')
    """
    years = {str(day.day.year) for text in days_told(lines) if (day := parse_date(text))}
    return year_in(lines) or (years.pop() if len(years) == 1 else "")


_MONTH_NAME = re.compile(rf"\b(?:{'|'.join(map(str.title, ENGLISH_MONTHS))})\b")  # prices may rise
_YEAR = re.compile(r"(?<![\d,])(?:19|20)\d{2}(?!\d|\s*(?:head|hd|lbs?)\b)")
_OF_A_YEAR = re.compile(r"\b(?:annual|yearly|through|calendar year)\b", re.IGNORECASE)


def month_in(lines: Sequence[str]) -> str:
    """Return the one month that the titles name, or blank.

    >>> month_in(["October average prices"]), month_in(["October to December"]), month_in(["Prices may rise"])
    ('October', '', '')
    """
    lines = [line for line in lines if not names_other_day(line) and not _OF_A_YEAR.search(line)]
    names = [name for line in lines for name in _MONTH_NAME.findall(line)]
    return names[0] if len(set(map(month_number, names))) == 1 else ""


def _day_of(found: re.Match[str], written: str) -> date | None:
    """Return the day of a match, of the year written where it has none; None for a month, or another's day."""
    year = int(written[:4]) if written[:4].isdecimal() and not is_whole(found) else None
    day = parse_date(found["day"], year=year)
    apart = day is None or day.precision == "month" or _OTHER_DAY.search(found.string[: found.start("day")])
    return None if day is None or apart else day.day


def is_whole(found: re.Match[str]) -> bool:
    """Tell whether a day names its year too."""
    day = found["day"]
    return day[-4:].isdecimal() if day[0].isalpha() else day[-1].isdecimal()


def _as_written(found: re.Match[str], day: date) -> str:
    """Return numbers as they stand, whose order the file decides; a day that names its month in ISO form."""
    return day.isoformat() if re.search(r"[a-z]", found["day"], re.IGNORECASE) else found["day"]
