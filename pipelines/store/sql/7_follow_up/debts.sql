-- One row an asked day and debt of a family that its troop handed over to the organisation by then. settled: what
-- adjustments that name the participant have credited the troop since; counts: what of it lowers what the troop owes,
-- once the organisation has accepted it, and is not credited already; came_in: what came back later.
-- Sources: chosen.days, accepted.agreements, accepted.adjustments.
with handed as (
    select
        d.as_of, a.entry_no, a.troop, a.about as participant, a.amount, a.as_of as handed_on, a.written_at, a.written_by,
        a.words
    from chosen.days d
    join accepted.agreements a on a.kind = 'debt' and a.as_of <= d.as_of
),
later as (
    select
        h.as_of, h.entry_no,
        min(a.as_of) filter (a.kind = 'accept') as accepted_on,
        min(a.as_of) filter (a.kind = 'take_back') as taken_back_on,
        coalesce(sum(a.amount) filter (a.kind = 'came_in'), 0)::decimal(18, 2) as came_in
    from handed h
    join accepted.agreements a on a.refers_to = h.entry_no and a.as_of <= h.as_of
        and a.kind in ('accept', 'take_back', 'came_in')
    group by all
),
credited as (
    select h.as_of, h.entry_no, sum(j.amount)::decimal(18, 2) as settled
    from handed h
    join accepted.adjustments j on j.troop = h.troop and j.participant = h.participant and j.date > h.handed_on
        and j.date <= h.as_of
    group by all
)
select
    h.*, l.accepted_on, l.taken_back_on, coalesce(l.came_in, 0)::decimal(18, 2) as came_in,
    coalesce(c.settled, 0)::decimal(18, 2) as settled,
    case
        when l.taken_back_on is not null or l.accepted_on is null then 0
        else greatest(0, h.amount - greatest(0, coalesce(c.settled, 0)))
    end::decimal(18, 2) as counts,
    case
        when l.taken_back_on is not null then 'taken back'
        when l.accepted_on is null then 'waits for the organisation'
        when coalesce(l.came_in, 0) >= h.amount then 'came in'
        else 'with the organisation'
    end as state
from handed h
left join later l using (as_of, entry_no)
left join credited c using (as_of, entry_no)
