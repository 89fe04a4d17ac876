-- One row an asked day and troop whose bank may not cover what is being collected and the next due date.
-- Sources: measures.standing, measures.bank_balances, accepted.cover, accepted.collections, season.thresholds.
-- Label: The next collection may not be covered
-- Meaning: The bank falls short of what is being collected and the next due amount by cover_from or more, and that day
-- is at most cover_within_days days off. At stake is what would be lacking. An estimate, unless a collection is
-- announced. Where one is announced and does not say whether it includes what is past due, both ways are looked at.
with short as (
    select s.*, -least(s.cover, s.cover_if_apart) as short_by, (s.next_due_on - s.as_of) as days
    from measures.standing s
    cross join season.thresholds f
    where -least(s.cover, s.cover_if_apart) >= f.cover_from and s.next_due_on <= s.as_of + f.cover_within_days
),
announced as (
    select s.as_of, s.troop, c.file_no, c.sheet, c.row_no
    from short s
    join accepted.collections c on c.troop = s.troop and c."on" = s.next_due_on and c.announced_on <= s.as_of
    qualify row_number() over (partition by s.as_of, s.troop order by c.announced_on desc) = 1
)
select
    s.as_of, s.troop, '' as subject, case when s.days <= 7 then 'act now' else 'ask' end as severity,
    'organisation' as about, s.short_by as at_stake, null as packages, s.remitted as met,
    said.money(s.next_due) || case when s.next_due_is_estimate then ' (our estimate)' else '' end || ' is due on '
        || said.day(s.next_due_on)
        || case when s.being_collected > 0 then ', ' || said.money(s.being_collected) || ' is being collected' else '' end
        || case
            when s.bank_balance is not null then '; the bank held ' || said.money(s.bank) || ' on ' || said.day(s.balance_on)
            when s.bank < 0 then '; by the sale''s records ' || said.money(-s.bank) || ' more has left the bank than came in'
            else '; by the sale''s records the bank holds ' || said.money(s.bank)
        end
        || '. ' || case
            when s.cover_if_apart is null then said.money(s.short_by) || ' may be lacking.'
            when s.cover < 0 then said.money(-s.cover) || ' may be lacking, or ' || said.money(s.short_by) || ' if the '
                || said.money(s.past_due) || ' past due is collected apart.'
            else 'That covers it; if the ' || said.money(s.past_due) || ' past due is collected apart, '
                || said.money(s.short_by) || ' may be lacking.'
        end as what,
    'Ask what will be banked before that day; if it is too little, agree with the organisation beforehand.' as next_step,
    'What can be banked before that day?' as ask,
    [said.evidence(a.file_no, a.sheet, a.row_no, 'amount', null, 'due on ' || said.day(s.next_due_on), s.next_due, null)]
        || case when s.being_collected > 0 then [said.worked_out('being collected', s.being_collected, null)] else [] end
        || case when s.cover_if_apart is not null then [said.worked_out('past due, if it is collected apart', s.past_due, null)]
            else [] end
        || [said.evidence(c.file_no, c.sheet, c.row_no, 'bank_balance', null,
            case when s.bank_balance is null then 'in the bank by the sale''s records' else 'the bank on ' || said.day(s.balance_on) end,
            -s.bank, null)] as evidence
from short s
left join announced a using (as_of, troop)
left join measures.bank_balances b using (as_of, troop)
left join accepted.cover c on c.troop = b.troop and c.week_ending = b.week_ending
