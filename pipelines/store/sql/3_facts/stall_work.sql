-- One row a stall and participant who worked it: at_troop, whose stall it was; troop, whose the participant is; minutes,
-- where they were told. Whoever is on the roster of another troop alone counts as that troop's: this looks beyond one
-- troop's rows. `troop`, the troop's own page, is no person and stands in no row.
-- Sources: accepted.stalls, accepted.roster.
with told as (
    select troop as at_troop, week_ending, date, start, place, file_no, sheet, row_no, unnest(participants) as worker
    from accepted.stalls
),
worked as (  -- a stall's rows may all name its workers
    select
        at_troop, week_ending, date, start, place, regexp_replace(worker, ':[0-9]*$', '') as participant,
        max(try_cast(regexp_extract(worker, ':([0-9]*)$', 1) as integer)) as minutes,
        min(file_no) as file_no, min(sheet) as sheet, min(row_no) as row_no
    from told
    group by all
),
homes as (  -- the troop that the participant was in on that day, else the one that came last
    select
        w.at_troop, w.week_ending, w.date, w.start, w.place, w.participant,
        bool_or(r.troop = w.at_troop) as is_own,
        arg_max(r.troop, (
            r.registered_on <= coalesce(w.date, w.week_ending)
                and coalesce(r.left_on > coalesce(w.date, w.week_ending), true),
            r.registered_on, r.troop)) as home
    from worked w
    join accepted.roster r on r.participant = w.participant
    group by all
)
select w.*, case when h.home is null or h.is_own then w.at_troop else h.home end as troop
from worked w
left join homes h on h.at_troop = w.at_troop and h.week_ending = w.week_ending
    and h.date is not distinct from w.date and h.start is not distinct from w.start
    and h.place is not distinct from w.place and h.participant = w.participant
where w.participant <> 'troop'
