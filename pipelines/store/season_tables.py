"""The season's rules as tables and as words, for SQL to read.

Comes in: a Season. Goes out: season.items, tiers, dues, rules, awards, postage, thresholds, order_states,
remittance_states; the macros by which rules and views say amounts and days.
"""

from decimal import Decimal

from pipelines.definitions.contract import PAID_BY_HAND_STATES, REMOTE_STATES
from pipelines.definitions.feeds import ORDER_STATES, REMITTANCE_STATES
from pipelines.definitions.online_and_awards import awards_told
from pipelines.definitions.season import Season
from pipelines.store.engine import Connection, insert, sql


def tell_season(con: Connection, season: Season) -> None:
    """The season's rules as tables: season.items, tiers, dues, rules, plan, order_states, remittance_states."""
    con.execute("create schema if not exists season")
    con.execute(
        "create or replace table season.items "
        "(item_no integer, code varchar, title varchar, price decimal(12,2), packages_per_case integer, "
        "is_stocked boolean, box_of integer)"
    )
    insert(
        con,
        "season.items",
        [
            (n, one.code, one.title, one.price, one.packages_per_case, one.stocked, one.box_of)
            for n, one in enumerate(season.items, 1)
        ],
    )
    con.execute("create or replace table season.tiers (tier_no integer, from_average decimal(12,4), rate decimal(9,4))")
    insert(
        con,
        "season.tiers",
        [(n, tier.from_average, tier.rate) for n, tier in enumerate(season.proceeds.tiers, 1)],
    )
    con.execute(
        "create or replace table season.dues (due_no integer, due_on date, share decimal(12,8), cutoff_on date)"
    )
    if season.dues:
        insert(
            con,
            "season.dues",
            [(n, due.on, due.share, due.cutoff_on) for n, due in enumerate(season.dues, 1)],
        )
    frame = season.season
    con.execute(
        "create or replace table season.rules as select ?::varchar as title, ?::varchar as area, ?::date as first_day, "
        "?::date as last_day, ?::varchar as currency, ?::integer as settle_days, ?::varchar as proceeds_per, "
        "?::integer as ship_minimum, ?::integer as answer_within_days, ?::date as first_week_ending, "
        "?::varchar as sign, ?::time as answer_until, ?::decimal(12,2) as far, ?::varchar as stall_credit, "
        "?::date as last_week_ending, ?::date as close_by",
        [
            frame.title,
            frame.area,
            frame.first_day,
            frame.last_day,
            frame.currency,
            frame.settle_days,
            season.proceeds.per,
            season.online.ship_minimum,
            season.online.answer_within_days,
            season.first_week_ending,
            frame.sign,
            season.online.answer_until,
            season.online.far,
            season.stalls.credit,
            season.week_endings[-1],
            season.close_by,
        ],
    )
    _tell_awards(con, season)
    plan = season.plan
    con.execute(
        "create or replace table season.plan as select ?::date as order_until, ?::date as hand_back_until, "
        "?::integer as lead_weeks, ?::decimal(9,4) as least_ratio, ?::decimal(12,2) as unsold_costs",
        [plan.order_until, plan.hand_back_until, plan.lead_weeks, plan.least_ratio, plan.unsold_costs],
    )
    thresholds = season.follow_up.model_dump()
    kinds = {int: "integer", Decimal: "decimal(12,4)"}
    told = ", ".join(f"?::{kinds[type(value)]} as {name}" for name, value in thresholds.items())
    con.execute(f"create or replace table season.thresholds as select {told}", list(thresholds.values()))
    con.execute(
        "create or replace table season.order_states "
        "(mode varchar, state varchar, rank integer, is_remote boolean, is_paid_by_hand boolean)"
    )
    insert(
        con,
        "season.order_states",
        [
            (mode, state, rank, (mode, state) in REMOTE_STATES, (mode, state) in PAID_BY_HAND_STATES)
            for mode, states in ORDER_STATES.items()
            for rank, state in enumerate(states, 1)
        ],
    )
    con.execute("create or replace table season.remittance_states (state varchar, rank integer)")
    insert(con, "season.remittance_states", [*zip(REMITTANCE_STATES, (1, 2, 3), strict=True)])


def _tell_awards(con: Connection, season: Season) -> None:
    """season.awards, and season.postage: the tiers by which posted orders are held."""
    con.execute(
        "create or replace table season.awards (award_no integer, code varchar, title varchar, steps integer, "
        "packages integer, levels varchar[], after varchar, depth integer, near integer, cost decimal(12,2), "
        "in_stock integer)"
    )
    if season.awards:
        insert(con, "season.awards", awards_told(season.awards))
    con.execute("create or replace table season.postage (up_to integer, price decimal(12,2))")
    if season.online.postage:
        insert(con, "season.postage", [(tier.up_to, tier.price) for tier in season.online.postage])


def tell_words(con: Connection, season: Season) -> None:
    """The macros by which rules and views say amounts, days and where a cell stands."""
    con.execute("create schema if not exists said")
    con.execute(sql("5_exceptions", "_words").replace("{sign}", season.season.sign))
