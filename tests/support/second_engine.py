"""The project's SQL run by a second engine, Spark: a check by a program that shares no line with the first.

Comes in: a folder with the tables of schemas landed, season and chosen as Parquet (given/). Goes out: every relation
of accepted, facts and measures as Spark makes it of them (made/). Run as a program of its own, so that nothing of it
stays behind. What SQL cannot say plainly is worked out by the same functions as everywhere, from Spark's own tables.
"""

import re
import sys
from collections.abc import Callable
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import sqlglot
from sqlglot import exp

from pipelines.figures.computing import STATISTICS
from pipelines.store import relations
from pipelines.store.engine import sql

STAGES = ("accepted", "facts", "measures")
Columns = Callable[[str], list[str]]

SETTINGS = {
    "spark.ui.enabled": "false",
    "spark.log.level": "OFF",
    "spark.ui.showConsoleProgress": "false",
    "spark.driver.host": "127.0.0.1",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.driver.extraJavaOptions": "-XX:+UseSerialGC -XX:TieredStopAtLevel=1 -XX:ReservedCodeCacheSize=240m",
    "spark.sql.autoBroadcastJoinThreshold": "-1",
    "spark.default.parallelism": "1",
    "spark.sql.shuffle.partitions": "1",
    "spark.sql.adaptive.enabled": "false",
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
    "spark.sql.catalogImplementation": "in-memory",
    "spark.sql.session.timeZone": "UTC",
    "spark.sql.timestampType": "TIMESTAMP_NTZ",
    "spark.sql.timeType.enabled": "true",
}
"""Small tables: no time is spent on what pays off with large ones."""


def said_in_spark(select: str, columns: Columns) -> str:
    """A select of DuckDB in Spark's words; `columns`: those of a relation by its full name."""
    tree = sqlglot.parse_one(select, read="duckdb")
    tree = tree.transform(_macro)
    for union in reversed(list(tree.find_all(exp.SetOperation))):  # the innermost first
        if union.args.get("by_name"):
            _by_place(union, columns)
    return str(tree.transform(_ordered_list).transform(_function).sql(dialect="databricks"))


def _by_place(union: exp.SetOperation, columns: Columns) -> None:
    """A union by name as one by place: each side selects the columns of both, in one order."""
    sides = [union.this, union.expression]
    own = [_names(side, columns) for side in sides]
    every = list(dict.fromkeys([*own[0], *own[1]]))
    for key, side, names in zip(("this", "expression"), sides, own, strict=True):
        if names != every:
            told = [exp.column(n, quoted=True) if n in names else exp.alias_(exp.null(), n, quoted=True) for n in every]
            union.set(key, exp.select(*told).from_(side.copy().subquery("side")))
    union.set("by_name", False)


def _names(query: exp.Expression, columns: Columns) -> list[str]:
    """The columns that a query gives."""
    if isinstance(query, exp.SetOperation):
        return list(dict.fromkeys([*_names(query.this, columns), *_names(query.expression, columns)]))
    if isinstance(query, exp.Subquery):
        return _names(query.this, columns)
    found: list[str] = []
    for one in query.selects:
        if not one.is_star:
            found.append(one.alias_or_name)
            continue
        sources = [query.args["from_"].this, *(join.this for join in query.args.get("joins", []))]
        if isinstance(one, exp.Column):
            sources = [source for source in sources if source.alias_or_name == one.table]
        found += [name for source in sources for name in _of_source(source, columns)]
    return found


def _of_source(source: exp.Expression, columns: Columns) -> list[str]:
    """The columns of a table, of a query within the query, or of one named before it."""
    if not isinstance(source, exp.Table):
        return _names(source, columns)
    if source.db:
        return columns(f"{source.db}.{source.name}")
    above = source.find_ancestor(exp.Query)
    while above is not None:
        for cte in above.ctes:
            if cte.alias == source.name:
                return _names(cte.this, columns)
        above = above.find_ancestor(exp.Query)
    raise LookupError(source.sql())


@cache
def _macros() -> dict[str, tuple[list[str], exp.Expression]]:
    """The project's macros by name: their terms and what they come to; {sign} stays as it is written."""
    found = re.findall(r"macro said\.(\w+)\((.*?)\) as\s(.*?);\n", sql("5_exceptions", "_words"), re.DOTALL)
    return {name: (terms.split(", "), sqlglot.parse_one(body, read="duckdb")) for name, terms, body in found}


def _macro(node: exp.Expression) -> exp.Expression:
    """A macro's call as what it comes to: Spark has none of several terms."""
    if not (isinstance(node, exp.Dot) and node.this.name == "said"):
        return node
    terms, body = _macros()[node.expression.name]
    given = dict(zip(terms, node.expression.expressions, strict=True))

    def put(inner: exp.Expression) -> exp.Expression:
        is_term = isinstance(inner, exp.Column) and not inner.table and inner.name in given
        return exp.paren(given[inner.name].copy()) if is_term else inner

    return exp.paren(body.copy().transform(put).transform(_macro))


def _ordered_list(node: exp.Expression) -> exp.Expression:
    """list(value order by key): Spark collects in any order, so it is sorted after collecting."""
    if not (isinstance(node, exp.ArrayAgg) and isinstance(node.this, exp.Order)):
        return node
    keys = [key.this.sql("databricks") for key in node.this.expressions]
    fields = ", ".join(f"'k{place}', {key}" for place, key in enumerate(keys))
    value = node.this.this.sql("databricks")
    text = f"transform(array_sort(collect_list(named_struct({fields}, 'told', {value}))), one -> one.told)"
    return sqlglot.parse_one(text, read="databricks")


def _function(node: exp.Expression) -> exp.Expression:
    """Functions that are said otherwise: exact quantiles, thousands in numbers."""
    if isinstance(node, exp.PercentileCont | exp.Quantile):
        return exp.func("percentile", node.this, node.args.get("expression") or node.args["quantile"])
    if isinstance(node, exp.Cast) and node.to.this == exp.DataType.Type.TIME:
        return exp.func("to_time", node.this)
    if isinstance(node, exp.DateDiff) and node.text("unit").lower() == "minute":
        return exp.func("time_diff", exp.Literal.string("MINUTE"), node.expression, node.this)
    if isinstance(node, exp.Anonymous) and node.name.lower() == "row":
        return exp.func("struct", *node.expressions)
    if isinstance(node, exp.Format):
        places = {"{:,}": 0, "{:,.2f}": 2}[node.this.name]
        return exp.func("format_number", node.expressions[0], exp.Literal.number(places))
    return node


class Spark:
    """A small Spark of two threads; what it is told lies in a folder as Parquet."""

    def __init__(self, folder: Path) -> None:
        from pyspark.sql import SparkSession

        builder = SparkSession.builder.master("local[2]").config(map=SETTINGS)
        self._session = builder.config("spark.sql.warehouse.dir", str(folder / "warehouse")).getOrCreate()
        self._schemas: set[str] = set()

    def tell(self, path: Path) -> None:
        """A table from a file that is named as it is in full."""
        from pyspark.sql.pandas.types import from_arrow_schema

        schema = path.stem.partition(".")[0]
        if schema not in self._schemas:
            self._schemas.add(schema)
            self._session.sql(f"create database {schema}")
        columns = from_arrow_schema(pq.read_schema(path), prefer_timestamp_ntz=True)
        self._session.catalog.createTable(path.stem, str(path), "parquet", columns)

    def columns(self, name: str) -> list[str]:
        return list(self._session.table(name).columns)

    def table(self, name: str) -> pa.Table:
        return self._session.table(name).toArrow()

    def make(self, select: str) -> pa.Table:
        """What a select of DuckDB comes to here."""
        return self._session.sql(said_in_spark(select, self.columns)).toArrow()


def in_order() -> list[tuple[str, str]]:
    """The relations of the stages and their selects, each after those that it, or its statistics, rest on."""
    made = {name: text for name, text in relations.ordered_relations() if name.partition(".")[0] in STAGES}
    takes = {name: set(one.takes) for name, one in STATISTICS.items()}
    needs = {name: (relations.needs_of(text) | takes.get(name, set())) & made.keys() for name, text in made.items()}
    return [(name, made[name]) for name in TopologicalSorter(needs).static_order()]


def main(folder: Path) -> None:
    """Makes every relation; ends with the name of the one that Spark cannot make."""
    spark = Spark(folder)
    for path in sorted((folder / "given").glob("*.parquet")):
        spark.tell(path)

    def put(name: str, table: pa.Table) -> None:
        path = folder / "made" / f"{name}.parquet"
        pq.write_table(table, path)
        spark.tell(path)

    (folder / "made").mkdir()
    for name, select in in_order():
        try:
            if one := STATISTICS.get(name):
                put(f"temp.{one.gives}", one.worked_out(*map(spark.table, one.takes)))
            put(name, spark.make(select))
        except Exception as fault:
            sys.exit(f"{name}: {str(fault)[:2000]}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
