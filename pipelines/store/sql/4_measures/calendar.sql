-- One row an asked day and slot that was known by then: whose it is and how it stands. What was agreed (a draw, a swap)
-- holds until a later day's table says otherwise. takings: the middle takings of a stall at its place, where enough are
-- known this season, else of the season before. Sources: chosen.days, accepted.slots, accepted.places,
-- accepted.places_before, accepted.agreements, measures.place_yields, season.rules.
with told as (
    select d.as_of, s.*
    from chosen.days d
    join accepted.slots s on s.state_on <= d.as_of
    qualify row_number() over (
        partition by d.as_of, s.slot
        order by s.state_on desc, array_position(['open', 'given', 'given_back', 'not_held'], s.state) desc, s.file_no desc
    ) = 1
),
agreed as (
    select d.as_of, a.about as slot, a.troop, a.as_of as since, a.words
    from chosen.days d
    join accepted.agreements a on a.kind = 'give' and a.as_of <= d.as_of
    qualify row_number() over (partition by d.as_of, a.about order by a.entry_no desc) = 1
),
held as (
    select
        t.as_of, t.slot, t.place, t.date, t.start, t."end" as until, t.file_no, t.sheet, t.row_no,
        coalesce(a.since > t.state_on or (a.since = t.state_on and t.state in ('open', 'given')), false) as is_agreed,
        case when is_agreed then a.troop when t.state = 'open' then null else t.troop end as troop,
        case when is_agreed then 'given' when t.state = 'given' and t.troop is null then 'open' else t.state end as state,
        case when is_agreed then a.since else t.state_on end as since,
        case when is_agreed then a.words end as words
    from told t
    left join agreed a on a.as_of = t.as_of and a.slot = t.slot
)
select
    h.as_of, h.slot, h.place, coalesce(p.title, h.place) as title, p.town, h.date, h.start, h.until,
    (date_diff('minute', h.start, h.until) / 60.0)::decimal(6, 2) as hours,
    case when h.start < time '12:00' then 'morning' when h.start < time '17:00' then 'afternoon' else 'evening' end
        as part_of_day,
    coalesce(p.prime, false) as is_prime, h.troop, h.state, h.since, h.words, p.from_on, p.until_on,
    h.date between coalesce(p.from_on, h.date) and coalesce(p.until_on, h.date) as is_permitted, coalesce(y.takings, b.middle_takings::double) as takings,
    (r.first_week_ending + 7 * ceil(date_diff('day', r.first_week_ending, h.date) / 7)::integer) as week_ending,
    h.file_no, h.sheet, h.row_no
from held h
cross join season.rules r
left join accepted.places p on p.place = h.place
left join accepted.places_before b on b.place = h.place
left join measures.place_yields y on y.as_of = h.as_of and y.place = h.place and y.part_of_day = ''
