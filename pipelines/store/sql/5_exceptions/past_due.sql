-- One row an asked day and troop with money past due.
-- Sources: measures.dues, measures.standing, accepted.collections, facts.remittance_spans, season.thresholds.
-- Label: Past due
-- Meaning: Instalments whose day has passed and that are neither paid nor still being collected come to past_due_from
-- or more. To act now once the oldest part is past_due_act_days days old.
with pending as (
    select d.as_of, r.troop, sum(r.amount) as pending
    from chosen.days d
    join facts.remittance_spans r on r.state = 'pending' and r.from_on <= d.as_of
        and (r.until_on is null or r.until_on > d.as_of)
    group by all
),
unpaid as (
    select
        u.as_of, u.troop, sum(u.unpaid) as at_stake, max(u.days_old) as days_old, count(*) as parts,
        min(u.due_on) as oldest_on, arg_min(u.unpaid, u.due_on) as oldest,
        list(said.evidence(c.file_no, c.sheet, c.row_no, 'amount', null,
            'of the instalment due on ' || said.day(u.due_on) || case when u.is_estimate then ' by the season''s rules' else '' end
                || ' is unpaid', u.unpaid, null) order by u.due_on) as evidence
    from measures.dues u
    left join accepted.collections c on c.troop = u.troop and c."on" = u.due_on and c.announced_on = u.announced_on
    where u.is_reached and not u.is_being_collected and u.unpaid > 0
    group by u.as_of, u.troop
)
select
    u.as_of, u.troop, '' as subject,
    case when u.days_old >= f.past_due_act_days then 'act now' else 'ask' end as severity,
    'organisation' as about, u.at_stake, null as packages, s.remitted + coalesce(p.pending, 0) as met,
    said.money(u.at_stake) || ' is past due'
        || case when u.parts > 1 then ', the oldest ' || said.money(u.oldest) else '' end
        || ' since ' || said.day(u.oldest_on) || ' (' || said.count(u.days_old, 'day', 'days') || ')'
        || case when p.pending > 0 then '; ' || said.money(p.pending) || ' is on its way' else '' end || '.' as what,
    'Agree a day and an amount, and write the promise down.' as next_step,
    'When can this be paid, and is anything in the way?' as ask,
    u.evidence
from unpaid u
join measures.standing s on s.as_of = u.as_of and s.troop = u.troop
left join pending p on p.as_of = u.as_of and p.troop = u.troop
cross join season.thresholds f
where u.at_stake >= f.past_due_from
