"""Who may come in: accounts, codes, sign-ins, waits."""
