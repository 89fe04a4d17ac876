-- One row a day and exception about which somebody decided something by that day: the latest decision. A note decides
-- nothing; an exception that came up again after it cleared is open again.
-- Sources: chosen.days, accepted.follow_ups.
select
    d.as_of, f.rule, f.troop, f.subject, f.entry_no, f.kind, f.as_of as decided_as_of, f.on_day, f.amount, f.at_stake,
    f.met, f.words, f.written_by, f.written_at
from chosen.days d
join accepted.follow_ups f on f.as_of <= d.as_of
where f.kind in ('promise', 'settle', 'set_aside', 'reopen', 'opened')
qualify row_number() over (partition by d.as_of, f.rule, f.troop, f.subject order by f.entry_no desc) = 1
