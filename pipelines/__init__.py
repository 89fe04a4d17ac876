"""The path of the data: intake → landed → accepted → facts → measures → screens and papers.

intake    a file's cells as they are, judged one by one: rows and findings
landed    every row and finding as it came, each unit accepted or held, nothing ever altered
accepted  what holds by a known-on time: the newest word on each key, or troop and week
facts     what happened: moves that count, orders and payments by the days of their states, families' weeks
measures  what it comes to, for each troop and day; read by screens and papers through one door
"""
