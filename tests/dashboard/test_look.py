"""The look: contrast in light and dark, and nothing that a browser would fetch elsewhere.

WCAG 2.2: text 4.5:1 (SC 1.4.3), marks 3:1 (SC 1.4.11). #767676 on white is 4.54:1, #777777 4.48:1.
"""

import tomllib
from pathlib import Path

import pytest

import dashboard

THEME = Path(dashboard.__file__).parent / ".streamlit" / "config.toml"
TEXTS = (
    "textColor",
    "linkColor",
    "redTextColor",
    "orangeTextColor",
    "greenTextColor",
    "blueTextColor",
    "grayTextColor",
)
FADED = 0.6  # captions are shown at this part of the text's colour
SHADES_WITH_TEXT = 10  # numbers stand on every shade of the heat map


def light(colour: str) -> float:
    """Relative luminance as WCAG defines it."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    bright, dark = sorted((light(one), light(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def faded(colour: str, ground: str) -> str:
    mixed = [round(int(colour[k : k + 2], 16) * FADED + int(ground[k : k + 2], 16) * (1 - FADED)) for k in (1, 3, 5)]
    return "#" + "".join(f"{part:02X}" for part in mixed)


@pytest.fixture(params=["light", "dark"])
def theme(request: pytest.FixtureRequest) -> dict[str, object]:
    return tomllib.loads(THEME.read_text(encoding="utf-8"))["theme"][request.param]  # type: ignore[no-any-return]


def test_the_yardstick_itself() -> None:
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.542, abs=0.001)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.478, abs=0.001)
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)


@pytest.mark.parametrize("name", TEXTS)
def test_text_stands_out(theme: dict[str, str], name: str) -> None:
    for ground in ("backgroundColor", "secondaryBackgroundColor"):
        assert contrast(theme[name], theme[ground]) >= 4.5


def test_captions_stand_out(theme: dict[str, str]) -> None:
    ground = theme["backgroundColor"]
    assert contrast(faded(theme["textColor"], ground), ground) >= 4.5


def test_marks_stand_out_and_so_do_the_numbers_on_the_shades(theme: dict[str, list[str]]) -> None:
    ground = str(theme["backgroundColor"])
    marks, shades = theme["chartCategoricalColors"], theme["chartSequentialColors"]
    assert all(contrast(mark, ground) >= 3 for mark in marks)
    assert len(shades) == SHADES_WITH_TEXT
    assert all(contrast(marks[3], shade) >= 4.5 for shade in shades)  # the fourth is the ink of numbers


def test_fonts_are_the_ones_that_come_along() -> None:
    text = THEME.read_text(encoding="utf-8")
    assert "http" not in text
    assert "fontFaces" not in text


def test_white_stands_out_on_what_is_to_be_pressed(theme: dict[str, str]) -> None:
    assert contrast("#FFFFFF", theme["primaryColor"]) >= 4.5
    assert contrast(theme["primaryColor"], theme["backgroundColor"]) >= 3
