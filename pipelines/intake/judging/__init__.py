"""Cells → the contract's rows, and findings with the cell of each."""
