"""Findings as sentences, and what to type instead."""
