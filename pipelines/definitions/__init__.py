"""What is declared once: tables that may come in, the season, measures, exception rules, records, errors."""
