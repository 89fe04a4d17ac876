-- One row an account that each troop has, in the order of a statement. An account that is positive holds value; the
-- organisation's accounts together are what is owed, negative. root: where plain-text accounting files it. Sources: none.
select *
from (values
    (1, 'stock', 'Assets', 'Packages on hand'),
    (2, 'families', 'Assets', 'Families owe'),
    (3, 'cash', 'Assets', 'Not banked'),
    (4, 'bank', 'Assets', 'In the bank'),
    (5, 'damaged', 'Expenses', 'Damaged'),
    (6, 'missing', 'Expenses', 'Packages not accounted for'),
    (7, 'stall_short', 'Expenses', 'Stalls short'),
    (8, 'organisation_charged', 'Liabilities', 'Charged'),
    (9, 'organisation_proceeds', 'Liabilities', 'Proceeds, taken off what is charged'),
    (10, 'organisation_paid_online', 'Liabilities', 'Paid online'),
    (11, 'organisation_remitted', 'Liabilities', 'Paid to the organisation'),
    (12, 'organisation_settled', 'Liabilities', 'Settled otherwise'),
    (13, 'organisation_adjusted', 'Liabilities', 'Adjusted'),
    (14, 'proceeds', 'Income', 'Proceeds'),
    (15, 'adjustments', 'Income', 'Adjustments that settle no family'),
    (16, 'float', 'Assets', 'Change, out of the bank'),
    (17, 'bank_fees', 'Expenses', 'Bank fees'),
    (18, 'gifts', 'Income', 'Gifts at stalls')
) as listed (account_no, account, root, title)
