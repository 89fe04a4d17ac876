-- One row an asked day, troop and thing without which the troop is not ready for its season's end. who: whose it is to
-- do; by_on: until when. Missing packages have their reason once that exception is settled. Of a closed troop: as it was.
-- Sources: chosen.days, measures.season_end, measures.standing, measures.items, measures.submissions, facts.submitted,
-- facts.troops, follow_up.decisions.
with counts as (  -- of each item the last count
    select d.as_of, i.troop, i.item, i.missing, i.price
    from chosen.days d
    join measures.items i on i.as_of <= d.as_of
    where i.is_stocked and i.on_hand is not null
    qualify row_number() over (partition by d.as_of, i.troop, i.item order by i.as_of desc) = 1
),
unexplained as (
    select c.as_of, c.troop, sum(c.missing)::bigint as missing, sum(abs(c.missing))::bigint as off,
        sum(c.missing * c.price)::decimal(18, 2) as amount, list(c.item order by c.item) as items
    from counts c
    left join follow_up.decisions s on s.as_of = c.as_of and s.rule = 'packages_missing' and s.troop = c.troop
        and s.subject = c.item and s.kind = 'settle'
    where c.missing <> 0 and s.kind is null
    group by all
),
over as (
    select as_of, troop, sum(on_hand_or_expected)::bigint as packages,
        sum(on_hand_or_expected * price)::decimal(18, 2) as amount
    from measures.items
    where is_stocked and on_hand_or_expected > 0
    group by all
),
held as (
    select d.as_of, s.troop, sum(s.files_held)::bigint as files
    from chosen.days d
    join measures.submissions s on s.as_of <= d.as_of
    where s.files_held > 0
    group by all
)
select s.as_of, s.troop, 1 as place, 'last week' as point, true as is_needed, 'leader' as who, f.close_by as by_on,
    null::decimal(18, 2) as amount, 'The last week, to ' || said.day(f.last_week) || ', is not in.' as what
from measures.standing s
join measures.season_end f on f.as_of = s.as_of and f.troop = s.troop
left join facts.submitted w on w.troop = s.troop and w.week_ending = f.last_week and w.week_ending <= s.as_of
where w.troop is null
union all by name
select h.as_of, h.troop, 2 as place, 'held' as point, true as is_needed, 'coordinator' as who, f.close_by as by_on,
    null::decimal(18, 2) as amount,
    said.count(h.files, 'file waits', 'files wait') || ' for an answer and counts in nothing yet.' as what
from held h
join measures.season_end f on f.as_of = h.as_of and f.troop = h.troop
union all by name
select u.as_of, u.troop, 3 as place, 'counts' as point, true as is_needed, 'leader' as who, f.close_by as by_on, abs(u.amount) as amount,
    said.packages(u.off) || ' of ' || said.listed(u.items) || ' differ from what should be there, and no reason is written '
        || 'down.' as what
from unexplained u
join measures.season_end f on f.as_of = u.as_of and f.troop = u.troop
union all by name
select o.as_of, o.troop, 4 as place, 'surplus' as point, true as is_needed, 'leader' as who,
    f.surplus_by as by_on, o.amount,
    said.packages(o.packages) || ' are on hand: to be given back, moved or bought.' as what
from over o
join measures.season_end f on f.as_of = o.as_of and f.troop = o.troop
union all by name
select s.as_of, s.troop, 5 as place, 'cash' as point, true as is_needed, 'leader' as who, f.close_by as by_on,
    abs(s.not_banked) as amount,
    case when s.not_banked > 0 then said.money(s.not_banked) || ' of cash is in no deposit yet.'
        else said.money(-s.not_banked) || ' more was banked than came in as cash.' end as what
from measures.standing s
join measures.season_end f on f.as_of = s.as_of and f.troop = s.troop
where s.not_banked <> 0
union all by name
select s.as_of, s.troop, 6 as place, 'collection' as point, true as is_needed, 'organisation' as who,
    coalesce(s.next_due_on, f.close_by) as by_on, coalesce(s.next_due, 0) + s.being_collected + s.past_due as amount,
    'The last collection has not cleared'
        || case when s.past_due > 0 then '; ' || said.money(s.past_due) || ' is past due' else '' end || '.' as what
from measures.standing s
join measures.season_end f on f.as_of = s.as_of and f.troop = s.troop
where coalesce(s.next_due, 0) <> 0 or s.being_collected <> 0 or s.past_due <> 0
union all by name
select t.as_of, t.troop, 7 as place, 'divisor' as point, true as is_needed, 'coordinator' as who, f.close_by as by_on,
    null::decimal(18, 2) as amount,
    'The organisation has not said by how many participants the average is divided.' as what
from measures.standing t
join facts.troops r using (troop)
join measures.season_end f on f.as_of = t.as_of and f.troop = t.troop
where r.divisor is null
