"""Several sheets of one table in one file → one Raw: what is accepted or held at once may stand on several.

Comes in: Raw tables of one file. Goes out: one Raw, each row with its own sheet, each cell with its own letters.
"""

from collections.abc import Sequence

import pyarrow as pa

from pipelines.intake.judging.tables import Cells, Raw


def joined(raws: Sequence[Raw]) -> Raw:
    """Several sheets of one table in one file as one Raw: what is accepted or held at once may stand on several."""
    if len(raws) == 1:
        return raws[0]
    sizes = [len(raw) for raw in raws]
    one = Raw(raws[0].table, raws[0].file_nos, [], [], {})
    one.sheets = [raw.sheet(row) for raw, size in zip(raws, sizes, strict=True) for row in range(size)]
    one.row_nos = [number for raw in raws for number in _listed(raw.row_nos)]
    one.is_mapped = any(raw.is_mapped for raw in raws)
    one.by_item = frozenset().union(*(raw.by_item for raw in raws))
    for name in raws[0].table.names:
        one.columns[name] = _one_after_another([raw.columns.get(name) for raw in raws], sizes)
        if any(name in raw.as_found for raw in raws):
            one.as_found[name] = _one_after_another([raw.found_column(name) for raw in raws], sizes)
        one.letters[name] = [at for raw, size in zip(raws, sizes, strict=True) for at in _by_row(raw, name, size)]
    for header in dict.fromkeys(header for raw in raws for header in raw.others):
        one.others[header] = _one_after_another([raw.others.get(header) for raw in raws], sizes)
    start = 0
    for raw, size in zip(raws, sizes, strict=True):
        one.row_faults |= {start + row: found for row, found in raw.row_faults.items()}
        one.placeholders += [start + row for row in raw.placeholders]
        for name, found in raw.refused.items():
            one.refused.setdefault(name, {}).update({start + row: why for row, why in found.items()})
        one.fixed |= {(start + row, name): cell for name, cell in raw.instead.items() for row in range(size)}
        start += size
    return one


def _listed(cells: Cells) -> list[object]:
    return cells.to_pylist() if isinstance(cells, pa.Array) else list(cells)


def _one_after_another(parts: Sequence[Cells], sizes: Sequence[int]) -> list[object]:
    together: list[object] = []
    for cells, size in zip(parts, sizes, strict=True):
        together += [None] * size if cells is None else _listed(cells)
    return together


def _by_row(raw: Raw, name: str, size: int) -> list[int]:
    place = raw.letters.get(name, -1)
    return place if isinstance(place, list) else [place if isinstance(place, int) else -1] * size
