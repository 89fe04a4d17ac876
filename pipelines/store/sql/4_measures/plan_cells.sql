-- One row a troop and item of the latest asked day: what it has, what may go out of it soon and by the season's end,
-- what it could give, what it lacks, and of that what is paid for already. Worked out by
-- pipelines/figures/stock_plan.py, which says how. Sources: temp.plan_cells.
select * from temp.plan_cells
