-- One row a remittance and the span of days it is in one state: [from_on, until_on); pending from its date before the
-- first known one. Sources: accepted.remittances, season.remittance_states.
with ranked as (
    select r.*, s.rank
    from accepted.remittances r
    join season.remittance_states s using (state)
),
last_of_day as (
    select *
    from ranked
    qualify row_number() over (partition by reference, state_on order by rank desc) = 1
),
earliest as (
    select *
    from ranked
    qualify row_number() over (partition by reference order by state_on, rank) = 1
),
all_states as (
    select reference, troop, date, amount, state, greatest(state_on, date) as from_on, reason, rank, file_no, sheet, row_no
    from last_of_day
    union all by name
    select reference, troop, date, amount, 'pending' as state, date as from_on, null as reason, 0 as rank, file_no,
        sheet, row_no
    from earliest
    where date < state_on
)
select *, lead(from_on) over (partition by reference order by from_on, rank) as until_on
from all_states
