"""The season's rules as a form: what is asked follows from their definition, and what people type is read.

Comes in: the definition of a Season, one that is there, what was typed. Goes out: sections of questions, values as
text, values read; a fault is a ValueError in words for whoever fills in.
"""

import types
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from pipelines.definitions.season import Season

Path = tuple[str, ...]
SIGNS = str.maketrans("", "", "$€£¥₹, ")
SAID = {
    "greater_than_equal": "{ge} or more", "less_than_equal": "{le} or less", "greater_than": "more than {gt}",
    "less_than": "less than {lt}", "string_too_short": "type something", "string_too_long": "too long",
    "decimal_max_places": "at most {decimal_places} decimals", "decimal_max_digits": "too many digits",
}  # fmt: skip
OWN = {("Item", "code"): "letters and digits, 12 at most", ("Award", "code"): "letters and digits, 12 at most",
       ("Frame", "currency"): "three capital letters, such as USD"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: where its value stands, what it asks, what kind of value it takes."""

    path: Path
    label: str
    about: str
    kind: Literal["words", "list", "yes", "choice", "day", "hour", "whole", "number", "share"]
    owner: str
    is_needed: bool
    default: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one kind, such as items: where they stand, and what is asked of each."""

    path: Path
    label: str
    columns: tuple[Asked, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the season's rules: its name in the file, what it is called, what it is about."""

    name: str
    title: str
    label: str
    asked: tuple[Asked, ...]
    tables: tuple[Table, ...]


@cache
def sections() -> tuple[Section, ...]:
    """Every section of the season's rules, in their own order."""
    found = []
    for name, field in Season.model_fields.items():
        if name == "text":
            continue
        asked, tables = _of_field((name,), field, Season)
        about = _model(field).__doc__ or ""
        label = about.partition(":")[2].strip().rstrip(".") or _spoken(name)
        found.append(Section(name, field.title or _spoken(name), label[:1].upper() + label[1:], asked, tables))
    return tuple(found)


def _of_field(path: Path, field: FieldInfo, owner: type) -> tuple[tuple[Asked, ...], tuple[Table, ...]]:
    """The questions and tables of a field: of a part all of its own, of rows a table, else one question."""
    inner = _plain(field.annotation)
    if isinstance(inner, type) and issubclass(inner, BaseModel):
        parts = [_of_field((*path, name), one, inner) for name, one in inner.model_fields.items()]
        return tuple(a for asked, _t in parts for a in asked), tuple(t for _a, tables in parts for t in tables)
    row = get_args(inner)[0] if get_origin(inner) is tuple else None
    if isinstance(row, type) and issubclass(row, BaseModel):
        columns = tuple(_asked((name,), one, row, in_table=True) for name, one in row.model_fields.items())
        return (), (Table(path, (field.description or _spoken(path[-1])).rstrip("."), columns),)
    return (_asked(path, field, owner),), ()


def _asked(path: Path, field: FieldInfo, owner: type, *, in_table: bool = False) -> Asked:
    inner = _plain(field.annotation)
    choices = tuple(str(one) for one in get_args(inner)) if get_origin(inner) is Literal else ()
    name, about = field.title or _spoken(path[-1]), field.description or ""
    label = name if in_table or not about else about.rstrip(".")
    default = "" if field.default is PydanticUndefined else shown(field.default)
    is_share = inner is Decimal and any(getattr(one, "le", None) == 1 for one in field.metadata)
    kind: Any = (
        "choice" if choices else "share" if is_share else "list" if get_origin(inner) is tuple
        else {bool: "yes", date: "day", time: "hour", int: "whole", Decimal: "number"}.get(inner, "words")
    )  # fmt: skip
    return Asked(path, label, about if in_table else "", kind, owner.__name__, field.is_required(), default, choices)


def _plain(annotation: Any) -> Any:
    """A field's type without its limits, and without None."""
    if get_origin(annotation) is Annotated:
        return _plain(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return _plain(next(one for one in get_args(annotation) if one is not type(None)))
    return annotation


def _model(field: FieldInfo) -> type:
    inner = _plain(field.annotation)
    return get_args(inner)[0] if get_origin(inner) is tuple else inner  # type: ignore[no-any-return]


def _spoken(name: str) -> str:
    return name.replace("_", " ").capitalize()


def shown(value: Any) -> str:
    """A value as it is typed; nothing where there is none."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, time):
        return value.isoformat("minutes")
    if isinstance(value, tuple | list):
        return ", ".join(str(one) for one in value)
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def value_at(season: Season, path: Path) -> Any:
    """What a season states there; rows of a table are mappings."""
    found: Any = season
    for name in path:
        found = getattr(found, name)
    if isinstance(found, tuple) and all(isinstance(one, BaseModel) for one in found):
        return [one.model_dump() for one in found]
    return found


def typed(asked: Asked, given: Any) -> Any:
    """What was typed, as a value; None: nothing was. Raises ValueError in words."""
    if given is None or (isinstance(given, str) and not given.strip()):
        if asked.is_needed:
            raise ValueError("type something")
        return None
    if isinstance(given, str):
        given = _read(asked, given.strip())
    return _checked(asked, given)


def _read(asked: Asked, text: str) -> Any:
    if asked.kind == "yes":
        if text.casefold() not in ("yes", "no", "true", "false"):
            raise ValueError("type yes or no")
        return text.casefold() in ("yes", "true")
    if asked.kind == "list":
        return tuple(part.strip() for part in text.split(",") if part.strip())
    if asked.kind == "day":
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise ValueError("type a day as year-month-day, such as 2027-03-12") from None
    if asked.kind == "hour":
        try:
            return time.fromisoformat(text if ":" in text else f"{text}:00".zfill(5))
        except ValueError:
            raise ValueError("type an hour such as 18:00") from None
    return _number(asked, text) if asked.kind in ("whole", "number", "share") else text


def _number(asked: Asked, text: str) -> Decimal | int:
    is_part = text.endswith("%")
    try:
        number = Decimal(text.rstrip("%").translate(SIGNS))
    except InvalidOperation:
        raise ValueError("type a number") from None
    if not number.is_finite():
        raise ValueError("type a number")
    if is_part:
        number = (number / 100).normalize()
    elif asked.kind == "share" and 1 < number <= 100:
        raise ValueError(f"type {shown((number / 100).normalize())}, or {shown(number)} %")
    if asked.kind != "whole":
        return number
    if number != number.to_integral_value():
        raise ValueError("type a whole number")
    return int(number)


@cache
def _adapter(owner: str, name: str) -> TypeAdapter[Any]:
    field = _owners()[owner].model_fields[name]
    whole: Any = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
    return TypeAdapter(whole)


@cache
def _owners() -> Mapping[str, type[BaseModel]]:
    """The parts of the season by name."""
    found: dict[str, type[BaseModel]] = {}

    def gather(model: type[BaseModel]) -> None:
        found[model.__name__] = model
        for field in model.model_fields.values():
            inner = _model(field)
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                gather(inner)

    gather(Season)
    return found


def _checked(asked: Asked, value: Any) -> Any:
    """A value within the limits of its field; raises ValueError in words."""
    try:
        return _adapter(asked.owner, asked.path[-1]).validate_python(value)
    except ValidationError as faults:
        fault = faults.errors()[0]
        said = SAID.get(fault["type"], "").format(**fault.get("ctx", {}))
        own = OWN.get((asked.owner, asked.path[-1]), "")
        raise ValueError(own or said or fault["msg"].removeprefix("Value error, ")) from None
