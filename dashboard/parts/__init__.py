"""What screens share."""
