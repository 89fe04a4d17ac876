"""How the derived relations are made: what the rules find is poured into one table."""

from pipelines.figures.computing import compute
from pipelines.store import engine, landed_tables, relations
from pipelines.store.book import Book

READ_BY_ANOTHER = {"family_behind", "promise_broken"}


def test_what_the_rules_find_is_kept_once(demo_book: Book) -> None:
    """A published book has no table for a rule that nothing else reads; a rule asked for by name finds the same."""
    rules = relations.rules_of(dict(relations.ordered_relations()))
    with demo_book.holding() as snapshot:
        con = landed_tables.look_back(snapshot)
        tables = con.execute(
            "select table_name from duckdb_tables() where database_name = 'snapshot' and schema_name = 'exceptions'"
        ).fetchall()
        days = [row[0] for row in con.execute("select as_of from snapshot.chosen.days").fetchall()]
        compute(con, demo_book.season(), days, only=frozenset(f"exceptions.{rule}" for rule in rules))
        found = 0
        for rule in rules:
            own = engine.rows(con, f"from exceptions.{rule} order by as_of, troop, subject")
            kept = "select * exclude (rule) from snapshot.follow_up.found where rule = ? order by as_of, troop, subject"
            assert engine.rows(con, kept, [rule]) == own, rule
            found += len(own)
        con.close()
    assert {row[0] for row in tables} == READ_BY_ANOTHER
    assert found > 200
