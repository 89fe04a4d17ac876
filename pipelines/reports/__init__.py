"""What goes out: one module a kind of paper, each a reader of measures."""
