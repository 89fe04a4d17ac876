"""The path of the data, package by package; imports run downwards only.

cli, commands   what was typed → what is done and said
reports         one module a paper                    | upkeep     a copy, keeping time, proof
workflow        whole runs: take in, publish, look back, preview, a file from elsewhere
landing         files → landed rows                   | follow_up  what was decided, whom to call
tracing         a figure → its cells                  | messages   findings as sentences | accounts  who may come in
figures         the readers' door: viewer, figures    | intake     bytes → cells → rows and findings
store           the engine, the book's folder, every relation as a file of SQL
definitions     what is declared once: tables that may come in, the season, measures, rules, records, errors
"""
