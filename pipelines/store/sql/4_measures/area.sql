-- One row an asked day: the whole area. Its shares are ratios of sums, never means of shares; the share's interval is
-- Wilson's score interval at 95 %. Sources: measures.standing, measures.steps, measures.participants, measures.items,
-- measures.posted_orders, measures.pace.
with money as (
    select
        as_of, week_no,
        count(*)::bigint as troops,
        count(*) filter (submitted)::bigint as troops_submitted,
        count(*) filter (past_due > 0)::bigint as troops_past_due,
        count(*) filter (cover < 0)::bigint as troops_not_covered,
        sum(available)::bigint as available, sum(sold_from_stock)::bigint as sold_from_stock,
        sum(remote)::bigint as remote, sum(packages_sold)::bigint as packages_sold,
        sum(on_hand)::bigint as on_hand, sum(missing)::bigint as missing,
        sum(stocked_sold)::bigint as stocked_sold, sum(stocked_available)::bigint as stocked_available,
        sum(available_value)::decimal(14, 2) as available_value, sum(remote_value)::decimal(14, 2) as remote_value,
        sum(on_hand_value)::decimal(14, 2) as on_hand_value, sum(damaged_value)::decimal(14, 2) as damaged_value,
        sum(missing_value)::decimal(14, 2) as missing_value, sum(families_owe)::decimal(14, 2) as families_owe,
        sum(stall_short)::decimal(14, 2) as stall_short, sum(not_banked)::decimal(14, 2) as not_banked,
        sum(in_bank)::decimal(14, 2) as in_bank, sum(remitted)::decimal(14, 2) as remitted,
        sum(paid_online)::decimal(14, 2) as paid_online, sum(settled_otherwise)::decimal(14, 2) as settled_otherwise,
        sum(charged)::decimal(14, 2) as charged, sum(proceeds)::decimal(14, 2) as proceeds,
        sum(adjustments)::decimal(14, 2) as adjustments, sum(credits)::decimal(14, 2) as credits,
        sum(owed)::decimal(14, 2) as owed, sum(being_collected)::decimal(14, 2) as being_collected,
        sum(past_due)::decimal(14, 2) as past_due, sum(past_due_0_7)::decimal(14, 2) as past_due_0_7,
        sum(past_due_8_14)::decimal(14, 2) as past_due_8_14, sum(past_due_15_30)::decimal(14, 2) as past_due_15_30,
        sum(past_due_over_30)::decimal(14, 2) as past_due_over_30,
        sum(paid_of_charge)::decimal(14, 2) as paid_of_charge, sum(stall_takings)::decimal(14, 2) as stall_takings,
        sum(registered)::bigint as registered, sum(taking_part)::bigint as taking_part,
        sum(registered_taking_part)::bigint as registered_taking_part
    from measures.standing
    group by all
),
steps as (
    select
        as_of,
        sum(step_registered)::bigint as step_registered, sum(step_contact)::bigint as step_contact,
        sum(step_goal)::bigint as step_goal, sum(step_page)::bigint as step_page, sum(step_told)::bigint as step_told,
        sum(step_first_sale)::bigint as step_first_sale, sum(step_goal_met)::bigint as step_goal_met,
        sum(goal)::bigint as goal
    from measures.steps
    group by all
),
ranked as (
    select
        as_of, packages,
        row_number() over (partition by as_of order by packages desc, troop, participant) as place,
        count(*) over (partition by as_of) as sellers
    from measures.participants
    where is_taking_part
),
spread as (
    select
        as_of, median(packages) as median_per_active, sum(packages)::bigint as participants_packages,
        coalesce(sum(packages) filter (place <= ceil(sellers / 10.0)), 0)::bigint as top_tenth_packages
    from ranked
    group by all
),
by_hand as (
    select as_of, sum(by_hand)::bigint as by_hand from measures.items group by all
),
posted as (
    select as_of, count(*)::bigint as posted_orders, sum(packages)::bigint as posted_packages
    from measures.posted_orders
    group by all
),
wilson as (
    select as_of, registered_taking_part::double as x, registered::double as n, 1.959963984540054::double as z
    from money
)
select
    m.*, t.* exclude (as_of), s.median_per_active,
    coalesce(s.participants_packages, 0) as participants_packages,
    coalesce(s.top_tenth_packages, 0) as top_tenth_packages,
    case when s.participants_packages > 0 then s.top_tenth_packages / s.participants_packages end as top_tenth_part,
    case when t.goal > 0 then m.packages_sold / t.goal end as goal_share,
    case when m.stocked_available > 0 then m.stocked_sold / m.stocked_available end as sell_through,
    case when m.available_value > 0
        then (m.paid_of_charge + m.stall_takings)::double / m.available_value::double end as paid_through,
    case when w.n > 0 then w.x / w.n end as share,
    case when w.n > 0 then greatest(0, (w.x + w.z * w.z / 2 - w.z * sqrt(w.x * (w.n - w.x) / w.n + w.z * w.z / 4))
        / (w.n + w.z * w.z)) end as share_low,
    case when w.n > 0 then least(1, (w.x + w.z * w.z / 2 + w.z * sqrt(w.x * (w.n - w.x) / w.n + w.z * w.z / 4))
        / (w.n + w.z * w.z)) end as share_high,
    case when m.registered > 0 then m.packages_sold / m.registered end as average_per_registered,
    case when m.taking_part > 0 then m.packages_sold / m.taking_part end as average_per_active,
    coalesce(h.by_hand, 0) as by_hand,
    case when m.packages_sold > 0 then (m.remote + coalesce(h.by_hand, 0)) / m.packages_sold end as online_share,
    coalesce(o.posted_orders, 0) as posted_orders,
    coalesce(o.posted_packages, 0) as posted_packages,
    case when o.posted_orders > 0 then o.posted_packages / o.posted_orders end as mean_posted_order,
    p.last_season, p.matched_now, p.matched_then, p.matched_troops,
    case when p.matched_then > 0 then p.matched_now / p.matched_then end as pace
from money m
join steps t on t.as_of = m.as_of
join wilson w on w.as_of = m.as_of
left join spread s on s.as_of = m.as_of
left join by_hand h on h.as_of = m.as_of
left join posted o on o.as_of = m.as_of
left join measures.pace p on p.as_of = m.as_of
