"""A template and its values → a PDF: tagged for screen readers, in any script, the same bytes each time.

Comes in: the name of a .typ file beside this one and values (text, numbers, lists). Goes out: a PDF (PDF/UA-1).
Values are handed over as JSON and never read as markup.

Fonts come from packages that hold nothing else (Source Sans 3; Noto Sans, Noto Sans Arabic, Noto Sans Hebrew, Noto Sans
CJK JP for names in other scripts; all SIL Open Font License). What the machine has installed plays no part, so that
bytes agree everywhere.
"""

import json
import threading
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import typst

HERE = Path(__file__).parent
FONTS = (  # Latin, Greek and Cyrillic; then what a name may need: more Latin, Arabic, Hebrew, Chinese, Japanese, Korean
    "fontpkg_source_sans_3",
    "fontpkg_noto_sans",
    "fontpkg_noto_sans_arabic",
    "pylopdf_fonts_he",
    "noto_cjk_sans_jp_regular",
)


_of_thread = threading.local()  # a compiler is for one thread; it keeps the fonts it has read


def pdf(template: str, values: Mapping[str, Any]) -> bytes:
    """The PDF that a template makes of values; what the machine itself has installed plays no part in it."""
    made = _compiler(template).compile(
        format="pdf",
        sys_inputs={"values": json.dumps(values, ensure_ascii=False)},
        pdf_standards=["ua-1"],
    )
    assert isinstance(made, bytes)  # noqa: S101 - a PDF is one file, other formats are a list
    return made


def pictures(template: str, values: Mapping[str, Any], ppi: float = 110) -> list[bytes]:
    """The same paper's pages as PNG, to look at on a screen."""
    made = _compiler(template).compile(
        format="png", ppi=ppi, sys_inputs={"values": json.dumps(values, ensure_ascii=False)}
    )
    return made if isinstance(made, list) else [bytes(made or b"")]


def _compiler(template: str) -> typst.Compiler:
    compilers: dict[str, typst.Compiler] = _of_thread.__dict__
    if template not in compilers:
        folders = [folder for name in FONTS for folder in _folders(name)]
        compilers[template] = typst.Compiler(
            str(HERE / template), root=str(HERE), font_paths=folders, ignore_system_fonts=True
        )
    return compilers[template]


def _folders(package: str) -> list[str]:
    spec = find_spec(package)
    return list(spec.submodule_search_locations or []) if spec else []
