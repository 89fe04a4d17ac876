-- One row an online order's item and the span of days it is in one state: [from_on, until_on). Before the first known
-- state it is in its mode's first state, with the packages and amounts of its earliest row.
-- Sources: accepted.online_orders, season.order_states.
with ranked as (
    select o.*, coalesce(nullif(o.participant, ''), 'troop') as seller, s.rank, s.is_remote, s.is_paid_by_hand
    from accepted.online_orders o
    join season.order_states s on s.mode = o.mode and s.state = o.state
),
last_of_day as (
    select *
    from ranked
    qualify row_number() over (partition by "order", item, state_on order by rank desc) = 1
),
earliest as (
    select *
    from ranked
    qualify row_number() over (partition by "order", item order by state_on, rank) = 1
),
all_states as (
    select
        "order", item, troop, seller, mode, state, state_on as from_on, packages, goods_amount, is_remote,
        is_paid_by_hand, placed_on, file_no, sheet, row_no
    from last_of_day
    union all by name
    select
        e."order", e.item, e.troop, e.seller, e.mode, f.state, e.placed_on as from_on, e.packages, e.goods_amount,
        f.is_remote,
        f.is_paid_by_hand, e.placed_on, e.file_no, e.sheet, e.row_no
    from earliest e
    join season.order_states f on f.mode = e.mode and f.rank = 1
    where e.placed_on < e.state_on
)
select *, lead(from_on) over (partition by "order", item order by from_on) as until_on
from all_states
