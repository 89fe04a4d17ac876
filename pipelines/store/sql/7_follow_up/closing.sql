-- One row an asked day and troop: how far its season's end has come. to_settle: what it owes, less what is with the
-- organisation; pays: what of that nobody is collecting already (negative: it gets that). state: open, ready, closed,
-- final (the leader and the coordinator have both confirmed the close).
-- Sources: measures.standing, follow_up.closing_points, follow_up.debts, accepted.closings, accepted.agreements, measures.season_end.
with points as (
    select as_of, troop, count(*) filter (is_needed)::bigint as needed, count(*)::bigint as open_points
    from follow_up.closing_points
    group by all
),
debts as (
    select as_of, troop, sum(counts)::decimal(18, 2) as with_organisation
    from follow_up.debts
    group by all
),
confirmed as (
    select c.troop, c.entry_no,
        min(a.written_by) filter (a.by_role = 'leader') as leader,
        min(a.written_by) filter (a.by_role = 'coordinator') as coordinator
    from accepted.closings c
    join accepted.agreements a on a.kind = 'confirm' and a.refers_to = c.entry_no and a.troop = c.troop
    group by all
),
gathered as (
    select
        s.as_of, s.troop, coalesce(p.needed, 0) = 0 as is_ready, coalesce(p.open_points, 0) as open_points,
        s.charged, s.proceeds, s.credits, s.owed, coalesce(d.with_organisation, 0)::decimal(18, 2) as with_organisation,
        s.being_collected, c.entry_no as close_no, c.as_of as closed_as_of, c.known_on as closed_known_on,
        c.written_by as closed_by, c.digest,
        f.leader as confirmed_by_leader, f.coordinator as confirmed_by_coordinator
    from measures.standing s
    left join points p using (as_of, troop)
    left join debts d using (as_of, troop)
    left join accepted.closings c on c.troop = s.troop
    left join confirmed f on f.troop = s.troop
)
select
    g.*,
    (g.owed - g.with_organisation)::decimal(18, 2) as to_settle,
    (g.owed - g.with_organisation - g.being_collected)::decimal(18, 2) as pays,
    e.close_by as settle_by,
    case
        when g.confirmed_by_leader is not null and g.confirmed_by_coordinator is not null then 'final'
        when g.close_no is not null then 'closed'
        when g.is_ready then 'ready'
        else 'open'
    end as state
from gathered g
join measures.season_end e on e.as_of = g.as_of and e.troop = g.troop
