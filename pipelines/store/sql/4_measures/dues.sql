-- One row an asked day, troop and due date: what it asks for, what of that is unpaid, being collected, past due.
-- due_by: all that must have been credited by then; a collection that leaves what is past due apart (arrears) adds to what
-- was due before it. is_estimate: no collection is announced for it.
-- Sources: measures.charges, season.dues, season.rules, accepted.collections, facts.remittance_spans.
with announced as (
    select p.as_of, p.troop, c."on" as due_on, max(c.announced_on) as announced_on,
        arg_max(c.amount, c.announced_on) as amount, arg_max(coalesce(c.arrears, ''), c.announced_on) as arrears
    from measures.points p
    join accepted.collections c on c.troop = p.troop and c.announced_on <= p.as_of
    where p.is_asked
    group by all
),
listed as (
    select as_of, troop, due_on, announced_on, amount, arrears, null::decimal(12, 8) as share, null::date as cutoff_on
    from announced
    union all by name
    select p.as_of, p.troop, s.due_on, null as announced_on, null as amount, null as arrears, s.share, s.cutoff_on
    from measures.points p
    cross join season.dues s
    anti join announced a on a.as_of = p.as_of and a.troop = p.troop and a.due_on = s.due_on
    where p.is_asked
),
alone as (
    select
        l.*,
        l.amount is null as is_estimate,
        l.due_on <= l.as_of as is_reached,
        coalesce(l.arrears = 'apart', false)
            and lag(l.due_on) over (partition by l.as_of, l.troop order by l.due_on) is not null as is_apart,
        case
            when l.due_on > l.as_of then null
            when l.amount is not null then greatest(a.credits, 0) + l.amount
            else greatest(round(l.share * (c.charged - c.proceeds), 2), 0)
        end::decimal(18, 2) as due_alone
    from listed l
    left join measures.charges a on a.as_of = l.announced_on and a.troop = l.troop
    left join measures.charges c on c.as_of = l.cutoff_on and c.troop = l.troop
),
-- A due and those apart that follow it, up to the next one that is not.
numbered as (
    select *, count(*) filter (not is_apart) over (partition by as_of, troop order by due_on) as run_no
    from alone
),
asked as (
    select
        * exclude (due_alone, run_no),
        case when is_reached
            then sum(case when is_apart then amount else due_alone end) over (partition by as_of, troop, run_no order by due_on)
        end::decimal(18, 2) as due_by
    from numbered
),
levelled as (
    select
        *,
        min(due_by) over (
            partition by as_of, troop order by due_on rows between current row and unbounded following
        ) as due_in_all
    from asked
    where is_reached
),
instalments as (
    select
        *,
        (due_in_all - lag(due_in_all, 1, 0) over (partition by as_of, troop order by due_on))::decimal(18, 2) as instalment
    from levelled
),
unpaid as (
    select
        i.*,
        least(i.instalment, greatest(0, i.due_in_all - greatest(h.credits, 0)))::decimal(18, 2) as unpaid,
        date_diff('day', i.due_on, i.as_of) as days_old
    from instalments i
    join measures.charges h on h.as_of = i.as_of and h.troop = i.troop
),
returned as (
    select distinct u.as_of, u.troop, u.due_on
    from unpaid u
    join facts.remittance_spans r on r.troop = u.troop and r.state = 'returned' and r.date >= u.due_on
        and r.from_on <= u.as_of and (r.until_on is null or r.until_on > u.as_of)
)
select
    a.as_of, a.troop, a.due_on, a.announced_on, a.amount, a.arrears, a.share, a.cutoff_on, a.is_estimate, a.is_reached,
    a.due_by, u.due_in_all, u.instalment, u.unpaid, u.days_old,
    coalesce(u.days_old <= s.settle_days and r.troop is null, false) as is_being_collected
from asked a
cross join season.rules s
left join unpaid u on u.as_of = a.as_of and u.troop = a.troop and u.due_on = a.due_on
left join returned r on r.as_of = a.as_of and r.troop = a.troop and r.due_on = a.due_on
