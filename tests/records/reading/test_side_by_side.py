"""Tables side by side are set one below another."""

from slidefit.records.reading.side_by_side import one_below_another
from slidefit.records.reading.tables import Grid


def _grid(text: str) -> Grid:
    rows = [line.split(",") for line in text.splitlines()]
    return Grid("a", rows, range(1, len(rows) + 1))


def test_blocks_stand_under_their_own_titles_and_beside_shared_columns() -> None:
    grid = _grid(",Steers,,Heifers,\nDate,Wt,Price,Wt,Price\n10/3/2026,512,390,480,370\nAverage,,390,,370")
    assert one_below_another(grid)[0].cells == [
        ["Steers"],
        ["Date", "Wt", "Price"],
        ["10/3/2026", "512", "390"],
        ["Average", "Average", "390"],
        ["Heifers"],
        ["Date", "Wt", "Price"],
        ["10/3/2026", "480", "370"],
        ["Average", "Average", "370"],
    ]


def test_next_titles_begin_another_sale() -> None:
    grid = _grid(
        "Steers,,Heifers,\nWt,Price,Wt,Price\n512,390,,\nSale of Oct 5\nSteers,,Heifers,\nWt,Price,Wt,Price\n,,480,370"
    )
    assert [row[0] for row in one_below_another(grid)[0].cells] == [
        *("Steers", "Wt", "512", "Sale of Oct 5", "Heifers", "Wt", "480")
    ]


def test_a_block_whose_title_tells_no_sale_stands_apart() -> None:
    grid = _grid("Pine Sale Barn Oct 3 2026,,My plan,\nWt,Price,Wt,Price\n512,390,560,410")
    sale, plan = one_below_another(grid)
    assert (sale.cells[-1], plan.cells[0], plan.numbers) == (["512", "390"], ["My plan"], [2, 2, 3])


def test_titles_that_tell_no_sale_leave_the_grid_as_it_is() -> None:
    for text in ("This week,,Last week,\nWt,Price,Wt,Price\n512,390,511,380", "Low,High,Low,High\n1,2,3,4"):
        assert one_below_another(grid := _grid(text)) == [grid]


def test_barns_stand_over_blocks_beside_shared_weights() -> None:
    grid = _grid(
        "Sex,Lb,Alder Flat,,Dry Creek,\n,,Head,$/cwt,Head,$/cwt\n"
        "STEERS\n,400-449,9,431.25,4,428.50\nHEIFERS\n,450-499,,,3,395"
    )
    assert one_below_another(grid)[0].cells == [
        ["Barn: Alder Flat"],
        ["Sex", "Lb", "Head", "$/cwt"],
        ["STEERS"],
        ["", "400-449", "9", "431.25"],
        ["HEIFERS"],
        ["Barn: Dry Creek"],
        ["Sex", "Lb", "Head", "$/cwt"],
        ["STEERS"],
        ["", "400-449", "4", "428.50"],
        ["HEIFERS"],
        ["", "450-499", "3", "395"],
    ]


def test_two_words_that_are_no_names_are_no_barns() -> None:
    for titles in ("Fleshy,,Thin,", "Top End,,Low Price,"):
        grid = _grid(f"{titles}\nWt,Price,Wt,Price\n512,390,511,380")
        assert one_below_another(grid) == [grid]
