-- One row an asked day, troop that a participant was in before and participant who is in another now: which, and what the
-- family owes in all of them together. Sources: measures.families, accepted.roster.
with rosters as (
    select participant, max_by(troop, registered_on) as now_troop
    from accepted.roster
    group by participant
    having count(distinct troop) > 1
),
owing as (
    select k.as_of, k.troop, k.participant, r.now_troop, k.owes,
        sum(k.owes) over (partition by k.as_of, k.participant) as owes_together
    from measures.families k
    join rosters r on r.participant = k.participant
    semi join accepted.roster o on o.troop = k.troop and o.participant = k.participant
)
select b.as_of, b.troop, b.participant, b.now_troop, b.owes, b.owes_together
from owing b
where b.troop <> b.now_troop
