-- One row a troop with an opening order: whether it is far above, thin or fits, what would be proposed, and the reason.
-- Worked out by pipelines/figures/opening.py, which says how. All troops together. Sources: temp.opening.
select * from temp.opening
