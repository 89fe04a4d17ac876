"""What screens ask and do: snapshots, readings, actions, downloads, sending; always for one signed-in person."""
