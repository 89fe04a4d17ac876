"""What people decided about exceptions, and whom to call first."""
