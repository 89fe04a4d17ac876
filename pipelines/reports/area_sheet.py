"""The first sheet of rollup.xlsx: the area in one sentence, in figures and in two charts.

Comes in: a Pen, its Week and an empty sheet. Goes out: the sheet filled in.
"""

from typing import Any

from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.measures import columns, measure
from pipelines.reports.dollar_places import places, total, total_label
from pipelines.reports.grid import BLUE, INK, LINE, Pen, print_set_up
from pipelines.reports.week import Week, per_cent, short_day

OF_ITEMS = (
    "available", "sold_from_stock", "remote", "on_hand_or_expected", "missing", "sell_through", "weeks_of_supply",
)  # fmt: skip


def area_sheet(pen: Pen, week: Week, sheet: Worksheet) -> None:
    """The area on one sheet: a sentence, its figures, where every dollar is, week by week, item by item."""
    area = week.area
    pen.head(sheet, week.season.season.area)
    sheet.set_column(0, 0, 40)
    sheet.set_column(1, 8, 13)
    sheet.merge_range(2, 0, 2, 8, "", pen.formats["lead"])
    sheet.set_row(2, 40)
    pen.put(sheet, 2, 0, _lead(week), "lead")
    row = _heading(pen, sheet, 4, "The area in figures", "", "How it is divided or read")
    for name in columns("area", "area"):
        meant = measure("area", name)
        pen.put(sheet, row, 0, meant.label)
        pen.put(sheet, row, 1, area[name], meant.unit)
        pen.put(sheet, row, 2, f"of {meant.divides_by}" if meant.divides_by else "", "aside")
        row += 1
    row = _where(pen, week, sheet, row + 1)
    row = _weeks(pen, week, sheet, row + 1)
    _items(pen, week, sheet, row + 1)
    print_set_up(pen, sheet, landscape=False)
    sheet.fit_to_pages(1, 2)


def _lead(week: Week) -> str:
    area = week.area
    settled = (
        f"{week.money(area['past_due'])} is past due in {area['troops_past_due']} troops."
        if area["troops_past_due"] else "Nothing is past due."
    )  # fmt: skip
    return (
        f"{area['troops_submitted']} of {area['troops']} submissions are in; {area['packages_sold']:,} packages sold, "
        f"{per_cent(area['sell_through'])} of the stocked packages have left the troops' stock. "
        f"{week.money(area['owed'])} is owed to the organisation in all. {settled}"
    )


def _heading(pen: Pen, sheet: Worksheet, row: int, *titles: str) -> int:
    for place in range(9):
        is_figure = place in (1, 2) and place < len(titles) and not titles[place].startswith("How")
        pen.put(
            sheet, row, place, titles[place] if place < len(titles) else "", "heading right" if is_figure else "heading"
        )
    return row + 1


def _where(pen: Pen, week: Week, sheet: Worksheet, row: int) -> int:
    """Where every dollar is: the terms, their sum, and a chart beside them."""
    area = week.area
    row = _heading(pen, sheet, row, f"Where every {week.coin} is", "Amount")
    first = row
    for name in places(area):
        pen.put(sheet, row, 0, measure("standing", name).label)
        pen.put(sheet, row, 1, area[name], "money")
        row += 1
    pen.put(sheet, row, 0, total_label(area), "strong")

    shown = pen.formats["money total"]
    sheet.write_formula(row, 1, f"=SUM(B{first + 1}:B{row})", shown, float(total(area)))
    chart = pen.workbook.add_chart({"type": "bar"})
    chart.add_series({
        "name": f"Where every {week.coin} is",
        "categories": ["Area", first, 0, row - 1, 0], "values": ["Area", first, 1, row - 1, 1],
        "fill": {"color": BLUE}, "gap": 40, "data_labels": {"value": True, "num_format": "#,##0", "font": {"size": 8}},
    })  # fmt: skip
    chart.set_y_axis(
        {"reverse": True, "interval_unit": 1, "line": {"color": LINE}, "num_font": {"size": 7, "color": INK}}
    )
    chart.set_x_axis({"visible": False, "major_gridlines": {"visible": False}})
    _place(chart, sheet, first, 11, f"Where every {week.coin} is", week.name)
    return row + 1


def _weeks(pen: Pen, week: Week, sheet: Worksheet, row: int) -> int:
    """Week by week, and a chart of the packages of each week."""
    row = _heading(pen, sheet, row, "Week by week", "Packages", "In the week", "  Submitted")
    first, before = row, 0
    for one in week.area_weeks:
        pen.put(sheet, row, 0, f"Week {one['week_no']}, to {short_day(one['as_of'])}")
        pen.put(sheet, row, 1, one["packages_sold"], "packages")
        pen.put(sheet, row, 2, one["packages_sold"] - before, "packages")
        pen.put(sheet, row, 3, f"{one['troops_submitted']} of {one['troops']}", "aside")
        before = one["packages_sold"]
        row += 1
    chart = pen.workbook.add_chart({"type": "column"})
    chart.add_series({
        "name": "Packages sold in each week",
        "categories": ["Area", first, 0, row - 1, 0], "values": ["Area", first, 2, row - 1, 2],
        "fill": {"color": BLUE}, "gap": 60, "data_labels": {"value": True, "num_format": "#,##0", "font": {"size": 8}},
    })  # fmt: skip
    chart.set_y_axis({"visible": False, "major_gridlines": {"visible": False}})
    chart.set_x_axis({"line": {"color": LINE}, "num_font": {"size": 8, "color": INK}})
    _place(chart, sheet, first, max(row - first, 10), "Packages sold in each week", week.name)
    return max(row, first + 10)


def _place(chart: Any, sheet: Worksheet, row: int, rows: int, title: str, named: str) -> None:
    chart.set_legend({"none": True})
    chart.set_title({"name": title, "name_font": {"size": 11, "color": INK}})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": 480, "height": 20 * rows + 10})
    sheet.insert_chart(row, 4, chart, {"x_offset": 8, "y_offset": 2, "description": f"{title}, {named}"})


def _items(pen: Pen, week: Week, sheet: Worksheet, row: int) -> None:
    titles = [measure("item_totals", name).label for name in OF_ITEMS]
    for place in range(9):
        pen.put(sheet, row, place, ["Item", *titles][place] if place < 8 else "", "header right" if place else "header")
    sheet.set_row(row, 32)
    first = row + 1
    for number, item in enumerate(week.item_totals, first):
        pen.put(sheet, number, 0, f"{item['item']}  {item['title']}"[:60])
        for place, name in enumerate(OF_ITEMS, 1):
            pen.put(sheet, number, place, item[name], measure("item_totals", name).unit)
    bar = {"type": "data_bar", "bar_color": "#9CC7E4", "bar_solid": True, "data_bar_2010": True,
           "min_type": "num", "min_value": 0, "max_type": "num", "max_value": 1}  # fmt: skip
    sheet.conditional_format(first, 6, first + len(week.item_totals) - 1, 6, bar)
