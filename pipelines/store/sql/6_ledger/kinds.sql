-- One row a kind of event: the account that its amount goes to and the one that it comes from. packages_sold: whether
-- its packages count as sold (1), no longer (-1) or not at all (0). An event of a kind that is not listed is posted
-- nowhere, and the book's proof says so. Sources: none.
select *
from (values
    ('opening', 'stock', 'organisation_charged', 0, 'Opening order'),
    ('depot', 'stock', 'organisation_charged', 0, 'Fetched from the depot'),
    ('taken_back', 'organisation_charged', 'stock', 0, 'Taken back by the organisation'),
    ('exchange', 'stock', 'damaged', 0, 'Good packages for damaged ones'),
    ('move_in', 'stock', 'organisation_charged', 0, 'Moved in from another troop'),
    ('move_out', 'organisation_charged', 'stock', 0, 'Moved out to another troop'),
    ('damage', 'damaged', 'stock', 0, 'Damaged'),
    ('hand_out', 'families', 'stock', 1, 'Taken by a family'),
    ('bring_back', 'families', 'stock', 1, 'Brought back by a family'),
    ('stall_sale', 'stall_short', 'stock', 1, 'Sold at a stall'),
    ('donation_out', 'families', 'organisation_charged', 1, 'Donation taken up by a family'),
    ('donation_back', 'families', 'organisation_charged', 1, 'Donation taken up no longer'),
    ('donation_stall', 'stall_short', 'organisation_charged', 1, 'Donation sold at a stall'),
    ('family_cash', 'cash', 'families', 0, 'Cash and cheques from a family'),
    ('family_card', 'bank', 'families', 0, 'Paid by a family into the bank'),
    ('stall_cash', 'cash', 'stall_short', 0, 'Cash and cheques from a stall'),
    ('stall_card', 'bank', 'stall_short', 0, 'Paid at a stall into the bank'),
    ('deposit', 'bank', 'cash', 0, 'Banked'),
    ('remote_order', 'organisation_paid_online', 'organisation_charged', 1, 'Online order, posted or donated'),
    ('remote_order_undone', 'organisation_charged', 'organisation_paid_online', -1, 'Online order, posted or donated no longer'),
    ('hand_order', 'organisation_paid_online', 'families', 0, 'Online order that a participant delivers, paid'),
    ('hand_order_undone', 'families', 'organisation_paid_online', 0, 'Online order that a participant delivers, paid no longer'),
    ('remittance', 'organisation_remitted', 'bank', 0, 'Remittance cleared'),
    ('remittance_undone', 'bank', 'organisation_remitted', 0, 'Remittance cleared no longer'),
    ('settlement', 'organisation_settled', 'families', 0, 'Adjustment that settles a family''s debt'),
    ('adjustment', 'organisation_adjusted', 'adjustments', 0, 'Adjustment'),
    ('count_short', 'missing', 'stock', 0, 'Fewer counted than should be there'),
    ('count_short_undone', 'stock', 'missing', 0, 'The count holds for its day alone'),
    ('proceeds', 'organisation_proceeds', 'proceeds', 0, 'Proceeds, by as much as they changed')
) as listed (kind, debit, credit, packages_sold, what)
