-- One row an asked day and amount (a stall's, a family's, a deposit) that fits with its decimal point moved.
-- Sources: chosen.days, facts.stalls, accepted.families, accepted.banked, season.items, season.thresholds.
-- Label: A slip of the decimal point
-- Meaning: With ten or a hundred times less (or, of a stall, more), an amount would be to the cent what a stall's
-- packages make, what a family owes or took this week, or the cash that waits to be banked; and that makes a difference
-- of slip_from or more. At stake is the difference.
-- Asked: before it is sent.
with families as (
    select
        f.troop, f.week_ending, f.participant, sum(coalesce(f.packages * i.price, 0)) as charged,
        sum(coalesce(f.cash, 0)) as cash, sum(coalesce(f.card, 0)) as card, max(f.file_no) as file_no,
        max(f.sheet) as sheet, coalesce(min(f.row_no) filter (f.cash <> 0 or f.card <> 0), min(f.row_no)) as row_no
    from accepted.families f
    left join season.items i on i.code = f.item
    where f.participant is not null
    group by all
),
owing as (
    select *, sum(charged) over so_far - sum(cash + card) over so_far + cash + card as owed
    from families
    window so_far as (partition by troop, participant order by week_ending)
),
cash as (
    select troop, week_ending, cash, 0 as banked from families
    union all by name
    select troop, week_ending, cash, 0 as banked from facts.stalls
    union all by name
    select troop, week_ending, 0 as cash, amount as banked from accepted.banked where amount is not null
),
weeks as (
    select troop, week_ending, sum(sum(cash) - sum(banked)) over (partition by troop order by week_ending) as waiting
    from cash
    group by troop, week_ending
),
compared as (  -- by how much an amount and all that goes with it is over what it should come to
    select troop, week_ending, 'stall' as part, concat_ws(' ', 'stall', date::varchar, left(start::varchar, 5), place) as subject,
        date, cash, card, cash + card - sold_value as over, true as both_ways, file_no, sheet, money_row_no as row_no
    from facts.stalls
    where sold_value > 0
    union all by name
    select troop, week_ending, participant as part, week_ending || ' ' || participant as subject, null as date, cash,
        card, cash + card - owed as over,
        false as both_ways, file_no, sheet, row_no
    from owing
    where owed > 0
    union all by name
    select troop, week_ending, participant as part, week_ending || ' ' || participant as subject, null as date, cash,
        card, cash + card - charged as over,
        false as both_ways, file_no, sheet, row_no
    from owing
    where charged > 0
    union all by name
    select b.troop, b.week_ending, 'deposit' as part, concat_ws(' ', 'deposit', b.date::varchar, b.slip) as subject,
        b.date, b.amount as cash, 0 as card,
        -w.waiting as over, false as both_ways, b.file_no, b.sheet, b.row_no
    from accepted.banked b
    join weeks w on w.troop = b.troop and w.week_ending = b.week_ending
    where -w.waiting < b.amount
),
slips as (
    select *, case when said.slipped(cash, over, both_ways) then cash else card end as amount,
        case when part = 'deposit' then 'amount' when said.slipped(cash, over, both_ways) then 'cash' else 'card' end
            as column_name
    from compared
    cross join season.thresholds f
    where abs(over) >= f.slip_from and (said.slipped(cash, over, both_ways) or said.slipped(card, over, both_ways))
    qualify row_number() over (partition by troop, subject order by week_ending, abs(over) desc, row_no) = 1
)
select
    d.as_of, s.troop, s.subject, 'ask' as severity, 'cash' as about, abs(s.over) as at_stake, null as packages,
    null as met,
    case s.part
        when 'stall' then 'The stall on ' || said.day(s.date) || ' took ' || said.money(s.amount)
            || case s.column_name when 'card' then ' by card' else ' in cash' end || ', where ' || said.money(s.amount - s.over)
            || ' is what its packages make.'
        when 'deposit' then 'The deposit of ' || said.day(s.date) || ' is ' || said.money(s.amount) || ', where '
            || said.money(s.amount - s.over) || ' of cash waited to be banked.'
        else s.part || ' handed in ' || said.money(s.amount) || ' in ' || said.week(s.week_ending) || ', where '
            || said.money(s.amount - s.over) || ' would fit.'
    end as what,
    'Ask whether the decimal point slipped.' as next_step,
    case s.part when 'stall' then 'The stall on ' || said.day(s.date)
        when 'deposit' then 'The deposit of ' || said.day(s.date) else s.part || ', ' || said.week(s.week_ending) end
        || ': is it ' || said.money(s.amount) || ', or ' || said.money(s.amount - s.over) || '?' as ask,
    [said.evidence(s.file_no, s.sheet, s.row_no, s.column_name, null, 'typed', abs(s.over), null)] as evidence
from chosen.days d
join slips s on s.week_ending <= d.as_of
