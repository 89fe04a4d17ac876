-- One row an asked day, troop and item of which other packages came on the day of delivery than were to come, as
-- somebody wrote down, for as long as the supply feed does not say the same. Sources: chosen.days, accepted.follow_ups,
-- accepted.supply, season.items.
-- Label: Delivered differently
-- Meaning: On the day of delivery the troop got more or fewer packages than its opening order says. A question to the
-- organisation; gone once the supply feed says what came. At stake is the value of the difference.
with written as (
    select d.as_of, f.troop, f.subject as item, f.amount::integer as came, f.words
    from chosen.days d
    join accepted.follow_ups f on f.as_of <= d.as_of and f.rule = 'delivery_differs' and f.kind = 'received'
    qualify row_number() over (partition by d.as_of, f.troop, f.subject order by f.entry_no desc) = 1
),
ordered as (
    select troop, item, sum(packages)::bigint as packages
    from accepted.supply
    where kind = 'opening'
    group by all
),
off as (
    select w.*, coalesce(o.packages, 0) as ordered, abs(w.came - coalesce(o.packages, 0)) as packages
    from written w
    left join ordered o using (troop, item)
    where w.came <> coalesce(o.packages, 0)
)
select
    o.as_of, o.troop, o.item as subject, 'ask' as severity, 'organisation' as about, o.packages * i.price as at_stake,
    o.packages, null::decimal(18, 2) as met,
    said.packages(o.ordered) || ' of ' || i.title || ' were to come, '
        || case when o.came = 0 then 'none' else format('{:,}', o.came) end || ' came'
        || case when o.words = '' then '.' else ': ' || o.words end as what,
    'Ask the organisation to put the delivery right, or the record of it.' as next_step,
    'Is the receipt with you, and what does it say?' as ask,
    [said.worked_out('differs from the opening order', o.packages * i.price, o.packages)] as evidence
from off o
join season.items i on i.code = o.item
