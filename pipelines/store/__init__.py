"""The engine and the folder: the one module that knows the engine, relations, the book, and the SQL.

Known on falls out of append-only landing: accepted.* looks at units accepted by then, and the season as landed by then.
States of orders and remittances become spans of days, and spans become signed changes: a sum up to a day is then a
plain sum, and a later state cannot rewrite an earlier day. Money is DECIMAL(12,2): the engine rounds halves away from
zero and sums decimals exactly, but avg and / make floating point, so neither touches money; tiers are compared by
multiplying. A week of stock alone counts as submitted. Where a troop's Moves came without its stock, its word on moves
still counts once, and the receiver's is not added to it.
"""
