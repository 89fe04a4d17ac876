-- One row a move between troops, or a fetch of whole cases for a troop, that is proposed on the latest asked day: moves
-- have a drive, a giver and packages; fetches have cases (negative: to hand back). Worked out by
-- pipelines/figures/stock_plan.py, which says how. Sources: temp.plan.
select * from temp.plan
