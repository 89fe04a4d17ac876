"""Packages written as cases and loose ones: 2c+3 is two full cases and three packages.

Comes in: a cell of a workbook's column of packages, how many packages a case of its item holds. Goes out: the number of
packages; any other cell as it is. What could be read in two ways, -2c+3, is left to be refused.
"""

import re

CASES = re.compile(r"(?:(-?)(\d{1,5}) ?c|(\d{1,5}) ?c ?\+ ?(\d{1,6}))", re.IGNORECASE)


def opened(cell: object, packages_per_case: int) -> object:
    """The packages of a cell that states cases."""
    found = CASES.fullmatch(cell.strip()) if isinstance(cell, str) else None
    if found is None:
        return cell
    if found[2]:
        return int(f"{found[1]}{found[2]}") * packages_per_case
    return int(found[3]) * packages_per_case + int(found[4])
