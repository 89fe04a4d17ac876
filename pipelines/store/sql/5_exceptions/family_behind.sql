-- One row an asked day, troop and participant whose family owes for packages of weeks long ended. Leavers stand in a
-- rule of their own; the troop's own page is no family. What was paid and brought back goes to the oldest first.
-- Sources: measures.families, measures.households, measures.changed_troops, facts.family_weeks, accepted.families, accepted.roster,
-- season.thresholds.
-- Label: A family far behind
-- Meaning: A family owes family_from or more for packages of weeks that ended family_days or more days ago. At stake
-- is that old part. To act now from family_act_from on. It may still be with the family's buyers. A household that is
-- even, one child over by what another owes, gets no call. Nor does one that changed troops and paid in the other.
with changed as (
    select as_of, now_troop, participant, sum(owes) as owes_before
    from measures.changed_troops
    group by all
),
owing as (
    select k.*
    from measures.families k
    anti join accepted.roster r on r.troop = k.troop and r.participant = k.participant and r.left_on <= k.as_of
    anti join measures.households h on h.as_of = k.as_of and h.troop = k.troop and h.participant = k.participant and h.is_even
    anti join changed c on c.as_of = k.as_of and c.now_troop = k.troop and c.participant = k.participant
        and c.owes_before + k.owes <= 0
    cross join season.thresholds f
    where k.owes >= f.family_from and k.participant <> 'troop'
),
back as (
    select o.as_of, o.troop, o.participant, -sum(least(w.charged, 0)) as brought_back
    from owing o
    join facts.family_weeks w on w.troop = o.troop and w.participant = o.participant and w.week_ending <= o.as_of
    group by all
),
weeks as (
    select
        o.as_of, o.troop, o.participant, w.week_ending, w.charged, greatest(o.paid + b.brought_back, 0) as taken_off,
        sum(w.charged) over (partition by o.as_of, o.troop, o.participant order by w.week_ending) as so_far
    from owing o
    join back b using (as_of, troop, participant)
    join facts.family_weeks w on w.troop = o.troop and w.participant = o.participant and w.week_ending <= o.as_of
        and w.charged > 0
),
old as (
    select w.*, least(w.charged, greatest(w.so_far - w.taken_off, 0)) as unpaid
    from weeks w
    cross join season.thresholds f
    where w.as_of - w.week_ending >= f.family_days
),
places as (
    select troop, participant, week_ending, min(file_no) as file_no, min(sheet) as sheet, min(row_no) as row_no
    from accepted.families
    group by all
),
siblings as (
    select
        a.as_of, a.troop, a.participant,
        string_agg(b.participant || ' is ' || said.money(-b.owes) || ' over', ', ' order by b.participant) as over
    from measures.households a
    join measures.households b on b.as_of = a.as_of and b.troop = a.troop and b.household = a.household
        and b.participant <> a.participant
    where b.owes < 0
    group by all
),
gathered as (
    select
        o.as_of, o.troop, o.participant, sum(o.unpaid) as at_stake, min(o.week_ending) as since,
        list(said.evidence(p.file_no, p.sheet, p.row_no, 'participant', null,
            'unpaid of the ' || said.money(o.charged) || ' charged in ' || said.week(o.week_ending), o.unpaid, null)
            order by o.week_ending) as evidence
    from old o
    join places p on p.troop = o.troop and p.participant = o.participant and p.week_ending = o.week_ending
    where o.unpaid > 0
    group by all
)
select
    g.as_of, g.troop, g.participant as subject,
    case when g.at_stake >= f.family_act_from then 'act now' else 'ask' end as severity, 'families' as about,
    g.at_stake, null as packages, k.paid as met,
    'The family of ' || g.participant || ' owes ' || said.money(k.owes) || '; ' || said.money(g.at_stake)
        || ' of it is for packages taken up to ' || said.week(g.as_of - f.family_days) || ', the oldest in '
        || said.week(g.since) || '. It has paid ' || said.money(k.paid) || ' so far.'
        || case when c.owes_before > 0 then ' It owes ' || said.money(c.owes_before) || ' in the troop it was in before, too.'
            else '' end
        || coalesce(' Of the same household ' || s.over || '.', '') as what,
    'Ask the leader to talk with the family: money collected, packages to bring back, or a day to pay.' as next_step,
    'Has this family money or packages to bring back, and by which day?' as ask,
    g.evidence
from gathered g
join owing k using (as_of, troop, participant)
left join siblings s on s.as_of = g.as_of and s.troop = g.troop and s.participant = g.participant
left join changed c on c.as_of = g.as_of and c.now_troop = g.troop and c.participant = g.participant
cross join season.thresholds f
where g.at_stake >= f.family_from
