-- One row an asked day, troop and participant who is registered or takes part: how far the participant has come.
-- goal: the newest told by then; has_sold: packages, or an online order to deliver that is paid. is_goal_met: also where
-- an earlier goal was met when it was raised. person: the same in all troops that a participant was in, joined_on: when.
-- Sources: facts.entries, measures.points, measures.participant_points, measures.families, accepted.roster, accepted.goals,
-- accepted.pages.
with asked as (
    select as_of, troop from measures.points where is_asked
),
goals as (
    select a.as_of, a.troop, g.participant, arg_max(g.goal, g.week_ending) as goal
    from asked a
    join accepted.goals g on g.troop = a.troop and g.week_ending <= a.as_of
    group by all
),
raised as (
    select troop, participant, goal, lead(week_ending) over told as until_on, lead(goal) over told as raised_to
    from accepted.goals
    window told as (partition by troop, participant order by week_ending)
),
met as (
    select r.troop, r.participant, r.goal, r.until_on
    from raised r
    join facts.entries e on e.troop = r.troop and e.participant = r.participant and e.on_day <= r.until_on
    where r.goal > 0 and r.raised_to > r.goal
    group by all
    having sum(case when e.kind in ('hand_out', 'bring_back', 'donation_out', 'donation_back', 'remote_order')
        then e.packages when e.kind = 'remote_order_undone' then -e.packages end) >= r.goal
),
once as (
    select a.as_of, a.troop, m.participant, min(m.goal) as goal
    from asked a
    join met m on m.troop = a.troop and m.until_on <= a.as_of
    group by all
),
pages as (
    select
        a.as_of, a.troop, w.participant,
        arg_max(w.page_open, w."on") as is_page_open,
        arg_max(w.people_told, w."on") as people_told
    from asked a
    join accepted.pages w on w.troop = a.troop and w."on" <= a.as_of
    group by all
)
select
    p.as_of, p.troop, p.participant, p.is_registered, p.is_taking_part,
    coalesce(r.contact_on_file, false) as has_contact,
    coalesce(g.goal, 0)::bigint as goal,
    coalesce(w.is_page_open, false) as is_page_open,
    coalesce(w.people_told, 0)::bigint as people_told,
    coalesce(f.packages, 0)::bigint as packages,
    coalesce(f.packages > 0 or f.by_hand > 0, false) as has_sold,
    coalesce(g.goal > 0 and f.packages >= g.goal, false) or coalesce(f.packages >= o.goal, false) as is_goal_met,
    coalesce(r.participant, p.troop || ' ' || p.participant) as person, r.registered_on as joined_on
from measures.participant_points p
join asked a on a.as_of = p.as_of and a.troop = p.troop
left join accepted.roster r on r.troop = p.troop and r.participant = p.participant
left join goals g on g.as_of = p.as_of and g.troop = p.troop and g.participant = p.participant
left join once o on o.as_of = p.as_of and o.troop = p.troop and o.participant = p.participant
left join pages w on w.as_of = p.as_of and w.troop = p.troop and w.participant = p.participant
left join measures.families f on f.as_of = p.as_of and f.troop = p.troop and f.participant = p.participant
