-- One row a stall and participant who worked it: how many of the stall's packages are the participant's. at_troop: whose
-- stall it was; troop: whose the participant is. left_over: whether a package that could not be shared evenly is among
-- them, and why. Worked out by pipelines/figures/stall_credit.py, which says how. Looks beyond one troop's rows.
-- Sources: temp.stall_credit.
select * from temp.stall_credit
