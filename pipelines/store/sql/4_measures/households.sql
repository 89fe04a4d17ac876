-- One row an asked day, troop and participant of a household of several: what the household owes together, and whether it
-- is even (nothing owed, nothing over) although its children are not. Sources: measures.families, accepted.roster.
with of_household as (
    select
        k.as_of, k.troop, k.participant, r.household, k.owes,
        sum(k.owes) over (partition by k.as_of, k.troop, r.household) as owes_together,
        count(*) over (partition by k.as_of, k.troop, r.household) as children
    from measures.families k
    join accepted.roster r on r.troop = k.troop and r.participant = k.participant
    where r.household <> ''
)
select *, owes_together = 0 as is_even
from of_household
where children > 1
