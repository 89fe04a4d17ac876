-- One row an asked day, troop and participant who is registered or takes part: how far the participant has come.
-- goal: the newest told by then; has_sold: packages, or an online order to deliver that is paid; orders: on the page, but
-- for those that buyers withdrew; to_answer: of these, those that wait for the caregiver's answer. person: the same in all
-- troops that a participant was in, joined_on: when.
-- Sources: measures.points, measures.participant_points, measures.families, measures.progress, accepted.roster,
-- accepted.pages, facts.order_spans.
with asked as (
    select as_of, troop from measures.points where is_asked
),
ordered as (
    select
        a.as_of, a.troop, s.seller as participant, count(distinct s."order") as orders,
        count(distinct s."order") filter (s.state = 'waiting') as to_answer
    from asked a
    join facts.order_spans s on s.troop = a.troop and s.state <> 'withdrawn' and s.from_on <= a.as_of
        and (s.until_on is null or s.until_on > a.as_of)
    group by all
),
pages as (
    select
        a.as_of, a.troop, w.participant,
        arg_max(w.page_open, w."on") as is_page_open,
        arg_max(w.waits_for_caregiver, w."on") as waits_for_caregiver,
        arg_max(w.own_picture, w."on") as own_picture,
        arg_max(w.delivers, w."on") as delivers,
        arg_max(w.people_told, w."on") as people_told
    from asked a
    join accepted.pages w on w.troop = a.troop and w."on" <= a.as_of
    group by all
)
select
    p.as_of, p.troop, p.participant, p.is_registered, p.is_taking_part,
    coalesce(r.contact_on_file, false) as has_contact,
    coalesce(g.goal, 0)::bigint as goal,
    coalesce(g.goals_raised, 0)::bigint as goals_raised,
    coalesce(g.made_elsewhere, 0)::bigint as made_elsewhere,
    coalesce(g.progress, 0)::bigint as progress,
    coalesce(g.promised, 0)::bigint as promised,
    coalesce(g.stall_credit, 0)::bigint as stall_credit,
    coalesce(g.taken, 0)::bigint as taken,
    coalesce(w.is_page_open, false) as is_page_open,
    coalesce(w.waits_for_caregiver, false) as waits_for_caregiver,
    coalesce(w.own_picture, 'no') as own_picture,
    coalesce(w.delivers, false) as delivers,
    coalesce(w.people_told, 0)::bigint as people_told,
    coalesce(o.orders, 0)::bigint as orders,
    coalesce(o.to_answer, 0)::bigint as to_answer,
    coalesce(f.packages, 0)::bigint as packages,
    coalesce(f.packages > 0 or f.by_hand > 0, false) as has_sold,
    coalesce(g.is_goal_met, false) as is_goal_met,
    coalesce(r.participant, p.troop || ' ' || p.participant) as person, r.registered_on as joined_on
from measures.participant_points p
join asked a on a.as_of = p.as_of and a.troop = p.troop
left join accepted.roster r on r.troop = p.troop and r.participant = p.participant
left join ordered o on o.as_of = p.as_of and o.troop = p.troop and o.participant = p.participant
left join measures.progress g on g.as_of = p.as_of and g.troop = p.troop and g.participant = p.participant
left join pages w on w.as_of = p.as_of and w.troop = p.troop and w.participant = p.participant
left join measures.families f on f.as_of = p.as_of and f.troop = p.troop and f.participant = p.participant
