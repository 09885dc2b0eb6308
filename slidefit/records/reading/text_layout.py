"""Text as it is laid out: columns held apart by blanks, letters that quote one another, halves, sentences."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from slidefit.records.quoted_lots import has_animal
from slidefit.records.reading.clauses import clauses
from slidefit.records.reading.tables import Grid, is_number
from slidefit.records.words.dialects import PublishedFormat
from slidefit.records.words.numerals import pointed, with_decimals
from slidefit.records.words.vocabulary import words_of

_QUOTED = words_of("reports", "quoted")
_SAMPLE_CHARACTERS, _BEGINNING_CHARACTERS = 200_000, 10_000
_SUBJECT = re.compile(r"^Subject:", re.MULTILINE)
_LETTER_HEAD = re.compile(
    r"^(?:Subject: *(?:(?:fwd?|re): *)*|(?:From|To|Cc|Sent|Date|Reply-To|MIME-[\w-]+|Content-[\w-]+): .*|On .* wrote:)",
    re.MULTILINE | re.IGNORECASE,
)
_SENDER = re.compile(  # of a message: its day, clock and name
    r"^\[?(\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}),? \d{1,2}:\d{2}(?::\d{2})?\s?(?:[AP]M)?\]?(?: -)? [^:\n\d]{1,30}: ",
    re.MULTILINE | re.IGNORECASE,
)
_QUOTE = re.compile(r"^[ \t]*>[> \t]?", re.MULTILINE)
_CONTINUES = re.compile(r"(?:,|\bto|\band|\bat|-|–)\s*$")
_NAME_FOLLOWS = re.compile(r"\b(?:at|the|of|on)\s*$")
_PROSE_LINE = 60  # characters from which a line may run over into the next
_FEWEST_BESIDE, _FEWEST_WORDS = 6, 4.0  # lines of each column of a paper; words of a line of sentences
_SHARE_AT_MIDDLE, _MOST_OF_TABLE = 0.7, 0.7  # of lines in two columns; of those with a lot on one side
_FEWEST_PAIRS, _MOST_LINES = 3, 2_000  # lines with a lot in each half; lines of a text that may have halves


def lots_in(text: str) -> int:
    """Return how many sales the clauses of a text quote: of one with no unit none.

    >>> lots_in("Feeder steers: 6 head, 312 to 340 lbs., 186.00 to 192.00 (189.45); 1 head, 405 lbs., 171.50.")
    2
    """
    sample = pointed(text[:_SAMPLE_CHARACTERS])
    return sum(clause.kind == "lot" for clause in clauses(sample)) if _QUOTED.search(sample) else 0


def more_in_clauses(text: str, rows: int) -> bool:
    """Tell whether a text tells more sales in clauses than a table has rows: of a long one by its beginning.

    >>> more_in_clauses("12 head, 550 lbs., 150.00; 4 head, 610 lbs., 141.00.", 1)
    True
    """
    sample = text[:_BEGINNING_CHARACTERS]
    return bool(sample) and lots_in(sample) > rows * len(sample) / len(text)


def in_reading_order(text: str) -> tuple[list[tuple[int, str]], frozenset[str]]:
    """Return the lines of a text with their numbers, and those that a letter does not quote where others are quoted.

    A letter that tells no sale of its own loses the marks of what it quotes; of two halves the left goes first.

    >>> lines, _ = in_reading_order("See below\\n> 12 hd strs 550 lbs $350.00\\n> 8 hd strs 610 lbs $331.00")
    >>> lines[1]
    (2, '12 hd strs 550 lbs $350.00')
    """
    own = [line.strip() for line in text.split("\n") if not _QUOTE.match(line)]
    if not lots_in("\n".join(own)):
        text = _QUOTE.sub("", text)
    if _SUBJECT.search(text):
        text = _LETTER_HEAD.sub("", text)
    if len(days := {found[1] for found in _SENDER.finditer(text)}) == 1:
        text = _SENDER.sub("", _SENDER.sub(f"{days.pop()}. ", text, count=1))
    return joined_lines(_halves([*map(with_decimals, text.split("\n"))])), frozenset(own)


def _halves(lines: Sequence[str]) -> list[tuple[int, str]]:
    """Return lines with their numbers, the left half of a block before its right half, where both are lots or prose."""
    starts = Counter(
        gap.end()
        for line in lines[:_MOST_LINES]
        for gap in re.finditer(r"(?<=\S) {3,}(?=\d)", line)
        if lots_in(line[: gap.end()]) and lots_in(line[gap.end() :])
    )
    numbered = list(enumerate(lines, 1))
    middle = max(starts, key=lambda start: starts[start], default=0)
    if starts[middle] < _FEWEST_PAIRS and not (middle := _beside_prose(lines[:_MOST_LINES])):
        return numbered
    ordered: list[tuple[int, str]] = []
    right: list[tuple[int, str]] = []
    for number, line in numbered:
        apart = not line[middle - 2 : middle].strip() and bool(line.strip())
        if apart and line[middle:].strip():
            right.append((number, line[middle:]))
        if right and line.strip() and not apart:
            ordered, right = [*ordered, *right], []
        ordered.append((number, line[:middle] if apart else line))
    return [*ordered, *right]


def _beside_prose(lines: Sequence[str]) -> int:
    """Return where the right one of two columns of a paper begins, one of which is sentences at least; 0 for none.

    >>> left, right = ["We sold 611 head", "26 head, 453 lbs., $428.25"], "rains came late but they came"
    >>> _beside_prose([f"{text:30}{right}" for text in left * 3]), _beside_prose([f"{left[1]:30}{right}"] * 6)
    (30, 0)
    """
    starts = Counter(gap.end() for line in lines for gap in re.finditer(r"(?:^|(?<=\S)) {3,}(?=\S)", line))
    middle = max(starts, key=lambda start: starts[start], default=0)
    if starts[middle] < _FEWEST_BESIDE:
        return 0
    apart = [line for line in lines if line.strip() and not line[middle - 2 : middle].strip()]
    left, right = ([line[side].strip() for line in apart] for side in (slice(middle), slice(middle, None)))
    both = [(one, other) for one, other in zip(left, right, strict=True) if other]
    prose = max(_mean_words(left), _mean_words(right)) >= _FEWEST_WORDS
    filled = sum(bool(line.strip()) for line in lines)
    whole = starts[middle] >= _SHARE_AT_MIDDLE * len(both) and len(apart) >= _SHARE_AT_MIDDLE * filled
    if not prose or not whole or min(sum(map(bool, left)), len(both)) < _FEWEST_BESIDE:
        return 0
    lots = [(bool(lots_in(one)), bool(lots_in(other))) for one, other in both]
    cut = any(sum(own) == 0 and lots_in(" ".join(pair)) for own, pair in zip(lots, both, strict=True))
    most = max(map(sum, zip(*lots, strict=True)))  # on one side: of nearly all lines, a table of lots
    return middle if not cut and most <= _MOST_OF_TABLE * len(both) else 0


def _mean_words(texts: Sequence[str]) -> float:
    """Return the mean count of words without a capital, of which sentences have more than names and headings."""
    filled = [len(re.findall(r"(?<!\S)[a-z]+(?!\d)", text)) for text in texts if text]
    return sum(filled) / max(len(filled), 1)


_UNIT_FIRST = re.compile(r"(?:lbs?|pounds|kgs?|hd|head)\b[.,;]")  # of the number that ends the line before


def joined_lines(lines: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    """Return lines with their numbers; one that a sentence runs over is joined with the next.

    >>> joined_lines([(1, "6 head, 412 lbs., 266.00 to"), (2, "272.00 (269.45)")])
    [(1, '6 head, 412 lbs., 266.00 to 272.00 (269.45)')]
    """
    joined: list[tuple[int, list[str]]] = []
    length = 0  # of the line so far: what continues it is told by its last piece; no line is read twice
    for number, line in lines:
        bare = line.strip()
        before = joined[-1][1][-1].rstrip() if joined else ""
        runs = length >= _PROSE_LINE and not re.search(r"[.;:]$", before) and re.match(r"[a-z(\d]", bare)
        begins = bare[:1].isdecimal() or has_animal(bare.split(" ", 1)[0])
        if begins and before.rstrip(")]")[-1:].isdecimal():
            runs = None  # a lot that ends with its price, and the next one
        if (
            bare
            and before
            and (
                runs
                or (_CONTINUES.search(before) and re.match(r"[a-z(\d$]", bare))
                or _NAME_FOLLOWS.search(before)
                or (_UNIT_FIRST.match(bare) and before[-1:].isdecimal())
            )
        ):
            joined[-1][1][-1] = before
            joined[-1][1].append(bare)
            length += 1 + len(bare)
        else:
            joined.append((number, [line]))
            length = len(line.rstrip())
    return [(number, " ".join(pieces)) for number, pieces in joined]


FEWEST_ALIGNED_LINES = 3
_NUMBERS = re.compile(r"(?<!\S)\$?\d[\d.,]*(?!\S)")
_RULE = re.compile(r"^[\s=_*+|-]*$")
_APART = re.compile(r"(?:[^\W\d_]+\.? )*[^\W\d_]+\.?(?= \d)|\S+(?: \S+)*")
_SPACED_OUT = re.compile(r"(?<!\S)[A-Z](?: [A-Z]){3,}(?!\S)")  # as S T E E R S


def aligned_grid(text: str, name: str) -> Grid | None:
    """Return the cells of text whose columns are held apart by blanks, or None when it is no such text.

    A line splits where two or more blanks stand. The columns are those of the commonest count of cells, or more where
    blanks hold them apart in all rows of numbers; their edges decide which cell of a line is missing.
    """
    own = (line for line in text.split("\n") if not _QUOTE.match(line))
    if not any(len(_NUMBERS.findall(line)) > 2 for line in own):  # all that may be rows is quoted
        text = _QUOTE.sub("", text)
    text = _SPACED_OUT.sub(lambda found: found[0].replace(" ", "").ljust(len(found[0])), text.expandtabs(8))
    lines = ["" if _RULE.match(line) else line for line in text.split("\n")]
    split = [list(re.finditer(r"\S+(?: \S+)*", line)) for line in lines]
    widths = Counter(len(parts) for parts in split if len(parts) >= 3)
    if not widths or sum(widths.values()) < FEWEST_ALIGNED_LINES:
        return None
    width = max(widths, key=lambda size: (widths[size], size))
    spans = _apart_everywhere(split, width)
    if not spans and widths[width] < FEWEST_ALIGNED_LINES:
        return None
    full = zip(*(parts for parts in split if len(parts) == width), strict=True)
    spans = spans or [
        (min(each.start() for each in cells), max(each.end() for each in cells)) for cells in full
    ]
    width = len(spans)
    cells = []
    for line, parts, below in zip(lines, split, [*split[1:], []], strict=True):
        apart = list(_APART.finditer(line))
        if width > len(parts) and _places(apart, spans) == list(range(width)):
            parts = apart  # a class and a count with but one blank between
        texts = [part.group() for part in parts]
        if len(parts) in (0, 1, width):
            cells.append(texts)
            continue
        over = _repeated_from([part.group() for part in below], len(parts)) if len(below) == width else -1
        row = [""] * width
        for number, (place, part) in enumerate(zip(_places(parts, spans), parts, strict=True)):
            covered = [at for at, span in enumerate(spans) if part.start() < sum(span) / 2 < part.end()]
            if over >= 0:
                place = over + number * (width - over) // len(parts)
            elif len(covered) > 1 and parts[0].start() > spans[0][0] and not any(map(is_number, texts)):
                row[covered[0] : covered[-1] + 1] = [part.group()] * len(covered)  # a heading over several
                continue
            row[place] = f"{row[place]}  {part.group()}".strip()
        cells.append(row)
    return Grid(name, cells, list(range(1, len(lines) + 1)))


_FEWEST_CELLS = 2
_SHARE_OF_ROWS = 0.1  # that fill a column, at least: in fewer a cell stands out of line


def _apart_everywhere(split: Sequence[list[re.Match[str]]], fewest: int) -> list[tuple[int, int]]:
    """Return the edges of the columns that blanks hold apart in all rows of numbers, if no fewer than so many."""
    rows = [parts for parts in split if sum(is_number(part.group()) for part in parts) > 1]
    spans: list[list[int]] = []  # start, end, cells
    for start, end in sorted(part.span() for parts in rows for part in parts):
        if spans and start < spans[-1][1]:
            spans[-1][1:] = max(end, spans[-1][1]), spans[-1][2] + 1
        else:
            spans.append([start, end, 1])
    sparse = min((cells for *_, cells in spans), default=0) < max(_SHARE_OF_ROWS * len(rows), _FEWEST_CELLS)
    return [(start, end) for start, end, _ in spans] if len(spans) >= fewest and not sparse else []


_SHARED = 50.0  # signs that a cell may lie beside its column rather than share one with the cell before it


def _places(parts: Sequence[re.Match[str]], spans: Sequence[tuple[int, int]]) -> list[int]:
    """Return the column of each piece of a line, from left to right, so that they lie as near to them as can be."""
    best: dict[int, tuple[float, list[int]]] = {-1: (0.0, [])}
    for part in parts:
        off = [abs(sum(span) - sum(part.span())) / 2 for span in spans]
        best = {
            at: min(
                (cost + off[at] + (_SHARED if last == at else 0.0), [*places, at])
                for last, (cost, places) in best.items()
                if last <= at
            )
            for at in range(len(spans))
        }
    return min(best.values())[1]


def _repeated_from(headings: Sequence[str], times: int) -> int:
    """Return the place from which headings repeat so many times, as under STEERS and HEIFERS; -1 for none.

    >>> _repeated_from(["Weight", "Head", "Price", "Head", "Price"], 2), _repeated_from(["Head", "Wt", "Price"], 2)
    (1, -1)
    """
    for place in range(len(headings) - times):
        texts = list(headings[place:])
        if times > 1 and texts == texts[: len(texts) // times] * times:
            return place
    return -1


_LONG_ROW = re.compile(
    r"(?<![\d.,/-])\d[\d,]*\s+[\d,]+(?:-[\d,]+)?\s+[\d,]+\s+\$?[\d,.]+(?:-\$?[\d,.]+)?\s+\$?[\d,]+(?:\.\d+)?(?![\d-])"
)
_LONGEST_LINE = 500


def unfolded(text: str, dialect: PublishedFormat | None) -> str:
    """Give a report that lost its line ends its lines again."""
    lines, line = text.expandtabs(8).split("\n"), dialect and dialect.line
    if not dialect or not line or not any(len(each) > _LONGEST_LINE and line.search(each) for each in lines):
        return "\n".join(lines)
    text = line.sub(r"\n\g<0>\n", text)
    for look, put in dialect.breaks:
        text = re.sub(look, put, text)
    text = _LONG_ROW.sub(r"\n\g<0>", text)
    return "\n".join(
        dialect.heading.sub(r"\n\1", each) if re.match(r"^\s*\d", each) else each for each in text.split("\n")
    )
